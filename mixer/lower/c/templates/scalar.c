/* shift_right: floor(x / 2^bits). C leaves >> of a negative number open; ~x is never negative here. */
static inline int32_t shift_right(int32_t x, int bits)
{
    return x < 0 ? ~(~x >> bits) : x >> bits;
}

/* as_signed: the number whose two's complement these 16 bits are. */
static inline int16_t as_signed(uint16_t bits)
{
    return bits < 32768u ? (int16_t)bits : (int16_t)(-1 - (int16_t)(65535u - bits));
}

/* shift_right_14: floor(x / 2^14), by halves of the number where a processor cannot shift far at once. */
static inline int32_t shift_right_14(int32_t x)
{
    uint16_t low = (uint16_t)((uint32_t)x & 65535u);
    return (int32_t)as_signed((uint16_t)((uint32_t)x >> 16)) * 4 + (int32_t)(low >> 14);
}

/* round14: a Q14 product back to Q14, to the nearest, halves away from zero. */
static inline int32_t round14(int32_t product)
{
    return shift_right_14(product + 8192 - (product < 0 ? 1 : 0));
}

/* mul14: the Q14 product of any two numbers whose product fits. */
static inline int32_t mul14(int32_t a, int32_t b)
{
    return round14(a * b);
}

/* multiply_short: the product of two numbers of 16 bits, much cheaper on small boards. */
static inline int32_t multiply_short(int16_t a, int16_t b)
{
    return (int32_t)a * (int32_t)b;
}

/* upper_half: floor(x / 2^16). */
static inline int16_t upper_half(int32_t x)
{
    return as_signed((uint16_t)((uint32_t)x >> 16));
}

/* shift_right_14_short: floor(x / 2^14) where it is proven to fit in 16 bits: two bits up, the upper half. */
static inline int16_t shift_right_14_short(int32_t x)
{
    return upper_half(x * 4);
}

/* mul14_short: the Q14 product of two such numbers, to the nearest, halves away from zero. */
static inline int16_t mul14_short(int16_t a, int16_t b)
{
    int32_t product = multiply_short(a, b);
    if (upper_half(product) < 0) {
        product--;
    }
    return shift_right_14_short(product + 8192);
}

/* scale14: the Q14 product with a constant from 0 to below 1, given four times as large: no shift is left. */
static inline int16_t scale14(int16_t x, uint16_t four_times)
{
    int32_t product = (int32_t)x * (int32_t)four_times;
    if (x < 0) {
        product--;
    }
    return upper_half(product + 32768);
}

/* divide: floor(a / b); a >= 0 and b > 0 always hold here. */
static inline int32_t divide(int32_t a, int32_t b)
{
    return (int32_t)((uint32_t)a / (uint32_t)b);
}

/* magnitude: the absolute value. */
static inline int32_t magnitude(int32_t x)
{
    return x < 0 ? -x : x;
}

/* minimum: the smaller of two. */
static inline int32_t minimum(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

/* maximum: the larger of two. */
static inline int32_t maximum(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

/* clamp: x held within low to high. */
static inline int32_t clamp(int32_t x, int32_t low, int32_t high)
{
    return x < low ? low : x > high ? high : x;
}

/* magnitude_short: the same of 16 bits. */
static inline int16_t magnitude_short(int16_t x)
{
    return (int16_t)(x < 0 ? -x : x);
}

/* minimum_short: the same of 16 bits. */
static inline int16_t minimum_short(int16_t a, int16_t b)
{
    return a < b ? a : b;
}

/* maximum_short: the same of 16 bits. */
static inline int16_t maximum_short(int16_t a, int16_t b)
{
    return a > b ? a : b;
}

/* clamp_short: the same of 16 bits. */
static inline int16_t clamp_short(int16_t x, int16_t low, int16_t high)
{
    return x < low ? low : x > high ? high : x;
}
