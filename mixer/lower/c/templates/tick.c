/* shift_right: floor(x / 2^bits). C leaves >> of a negative number open; ~x is never negative here. */
static inline int32_t shift_right(int32_t x, int bits)
{
    return x < 0 ? ~(~x >> bits) : x >> bits;
}

/* magnitude: the absolute value. */
static inline int magnitude(int x)
{
    return x < 0 ? -x : x;
}

/* magnitude_long: the same of 32 bits. */
static inline int32_t magnitude_long(int32_t x)
{
    return x < 0 ? -x : x;
}

/* mul14_long: the Q14 product of any two numbers whose product fits. */
static inline int32_t mul14_long(int32_t a, int32_t b)
{
    const uint32_t product = (uint32_t)magnitude_long(a) * (uint32_t)magnitude_long(b);
    const int32_t rounded = (int32_t)((product + 8192u) >> 14);
    return (a < 0) != (b < 0) ? -rounded : rounded;
}

/* multiply: the product of two numbers of 16 bits, much cheaper on small boards. */
static inline int32_t multiply(int a, int b)
{
    return (int32_t)a * b;
}

/* part14: the Q14 product with a constant below 1, given four times as large: the upper half is it, to the nearest. */
static APART int part14(int x, uint16_t four_times)
{
    return (int)(((uint32_t)(uint16_t)x * four_times + 32768u) >> 16);
}

/* scale14: the same of a number of either sign, halves away from zero. */
static inline int scale14(int x, uint16_t four_times)
{
    return x < 0 ? -part14(-x, four_times) : part14(x, four_times);
}

/* bytes14: x * factor / 2^(8 + bits) to the nearest, byte by byte: x is no negative number, factor at most 127. */
static inline int bytes14(int x, int factor, uint8_t bits)
{
    const int8_t upper = (int8_t)((uint16_t)x >> 8);
    const uint8_t lower = (uint8_t)((uint16_t)x & 255u);
    const int carried = (int)((uint16_t)(lower * (uint16_t)factor) >> 8);
    return (int)((uint16_t)(upper * factor + carried + (int)(1u << (bits - 1u))) >> bits);
}

/* signed_bytes14: the same of a number of either sign. */
static inline int signed_bytes14(int x, int factor, uint8_t bits)
{
    const int amount = bytes14(magnitude(x), factor, bits);
    return x < 0 ? -amount : amount;
}

/* duty14: the Q14 product with 255, the full count of most boards' motor wires: 256 - 1 needs no multiplication. */
static inline int duty14(int x)
{
    const uint16_t amount = (uint16_t)x;
    return (int)((amount - ((amount + 255u) >> 8) + 32u) >> 6);
}

/* signed_duty14: the same of a number of either sign. */
static inline int signed_duty14(int x)
{
    return x < 0 ? -duty14(-x) : duty14(x);
}

/* product14: the Q14 product of two numbers that are not negative: of twice each the upper half is it, to the nearest. */
static inline int product14(int a, int b)
{
    return (int)(((uint32_t)(uint16_t)((uint16_t)a * 2u) * (uint16_t)((uint16_t)b * 2u) + 32768u) >> 16);
}

/* share14: the same of a first number of either sign, halves away from zero. */
static inline int share14(int x, int b)
{
    return x < 0 ? -product14(-x, b) : product14(x, b);
}

/* mul14: the same of two numbers of either sign. */
static inline int mul14(int a, int b)
{
    return b < 0 ? -share14(a, -b) : share14(a, b);
}

/* divide: floor(a / b); a >= 0 and b > 0 always hold here. */
static inline int32_t divide(int32_t a, int32_t b)
{
    return (int32_t)((uint32_t)a / (uint32_t)b);
}

/* share_of_full: 2^28 / peak, rounded down, for a peak from 16384 to 32767: 14 steps of a long division in 16 bits. */
static APART int share_of_full(int peak)
{
    const uint16_t divisor = (uint16_t)peak;
    uint16_t rest = 16384u;
    uint16_t share = 0u;
    if (divisor == rest) {
        share = 16384u;
    } else {
        for (uint8_t step = 0u; step < 14u; step++) {
            rest = (uint16_t)(rest * 2u);
            share = (uint16_t)(share * 2u);
            if (rest >= divisor) {
                rest = (uint16_t)(rest - divisor);
                share++;
            }
        }
    }
    return (int)share;
}

/* minimum: the smaller of two. */
static inline int minimum(int a, int b)
{
    return a < b ? a : b;
}

/* maximum: the larger of two. */
static inline int maximum(int a, int b)
{
    return a > b ? a : b;
}

/* clamp: x held within low to high. */
static inline int clamp(int x, int low, int high)
{
    return x < low ? low : x > high ? high : x;
}

/* counted: one more, at most `most`, which it never is above. */
static inline uint8_t counted(uint8_t count, uint8_t most)
{
    return count < most ? (uint8_t)(count + 1u) : count;
}

/* counted_down: one less, 0 at last. */
static inline uint8_t counted_down(uint8_t count)
{
    return count > 0u ? (uint8_t)(count - 1u) : count;
}

/* clipped_sum: a + b held within -16384 to 16384, of two that are no larger: 16 bits hold all of it. */
static inline int clipped_sum(int a, int b)
{
    return b < 0 ? maximum(a, -16384 - b) + b : minimum(a, 16384 - b) + b;
}

/* clipped_difference: a - b, in the same way. */
static inline int clipped_difference(int a, int b)
{
    return clipped_sum(a, -b);
}

/* minimum_long: the same of 32 bits. */
static inline int32_t minimum_long(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

/* maximum_long: the same of 32 bits. */
static inline int32_t maximum_long(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

/* clamp_long: the same of 32 bits. */
static inline int32_t clamp_long(int32_t x, int32_t low, int32_t high)
{
    return x < low ? low : x > high ? high : x;
}
