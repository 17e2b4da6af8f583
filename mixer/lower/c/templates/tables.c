/* What sticks make of their distance from the centre, by the µs, in segments of sixteen: where each one begins, ... */
static const uint16_t amount_base[@segments@] IN_FLASH = {
@base@
};

/* ... how it rises by the µs, ... */
static const uint8_t amount_slope[@segments@] IN_FLASH = {
@slope@
};

/* ... and what each amount has more than that. */
static const uint8_t amount_more[@count@] IN_FLASH = {
@more@
};

/* amount: one of these amounts. Each table begins with a segment; sums are counted modulo 65,536. */
static inline int amount(uint16_t at)
{
    const uint16_t segment = (uint16_t)(at >> 4);
    const uint8_t within = (uint8_t)(at & 15u);
    const uint16_t risen = (uint16_t)(READ_BYTE(amount_slope[segment]) * within);
    return (int)(uint16_t)(READ_WORD(amount_base[segment]) + risen + READ_BYTE(amount_more[at]));
}
