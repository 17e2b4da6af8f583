/* shift_right: floor(x / 2^bits) in each lane; gcc and clang define >> of signed lanes as arithmetic. */
static inline lanes shift_right(lanes x, int bits)
{
    return x >> bits;
}

/* all: the same number in each lane. */
static inline lanes all(int32_t x)
{
    return (lanes){0} + x;
}

/* choose: a where the flag (all ones) holds, else b (the flag is all zeros). */
static inline lanes choose(lanes flag, lanes a, lanes b)
{
    return (a & flag) | (b & ~flag);
}

/* mul14: the Q14 product, to the nearest, halves away from zero. */
static inline lanes mul14(lanes a, lanes b)
{
    lanes product = a * b;
    return (product + 8192 + (product >> 31)) >> 14;
}

/* divide: floor(a / b) for a >= 0 and b > 0. Exact: below 2^31 a quotient of doubles never rounds up to a whole number. */
static inline lanes divide(lanes a, lanes b)
{
    return __builtin_convertvector(__builtin_convertvector(a, reals) / __builtin_convertvector(b, reals), lanes);
}

/* magnitude: the absolute value. */
static inline lanes magnitude(lanes x)
{
    return choose(x < 0, -x, x);
}

/* minimum: the smaller of two. */
static inline lanes minimum(lanes a, lanes b)
{
    return choose(a < b, a, b);
}

/* maximum: the larger of two. */
static inline lanes maximum(lanes a, lanes b)
{
    return choose(a > b, a, b);
}

/* clamp: x held within low to high. */
static inline lanes clamp(lanes x, lanes low, lanes high)
{
    return maximum(minimum(x, high), low);
}
