/* Any step over many lanes: a list of operations, each worked through for a block of lanes at a time.

   One library does for every robot and every broken body of it. Values are doubles; what numpy has in single
   precision is rounded to it after each operation, which gives the same number (double rounding does no harm
   to + - * / and the root where the wider type has twice the digits and two more). */
#include <math.h>
#include <stdint.h>
#include <string.h>

enum { BLOCK = @block@ };
enum { @operations@ };

typedef struct {
    int32_t name, result, x, y, z;
} operation;

#define ROW(at) (rows + (int64_t)(at) * BLOCK)
#define EACH(value) for (int n = 0; n < BLOCK; n++) { r[n] = (value); }
/* An operand below zero is one number for all lanes. */
#define ONE_OF(NAME, value) case NAME: { const double *restrict a = ROW(it.x); EACH(value) break; }
#define TWO_OF(NAME, F) case NAME: \
    if (it.x < 0) { \
        const double a = numbers[-1 - it.x], *restrict b = ROW(it.y); EACH(F(a, b[n])) \
    } else if (it.y < 0) { \
        const double *restrict a = ROW(it.x), b = numbers[-1 - it.y]; EACH(F(a[n], b)) \
    } else { \
        const double *restrict a = ROW(it.x), *restrict b = ROW(it.y); EACH(F(a[n], b[n])) \
    } break;
#define PLUS_(a, b) ((a) + (b))
#define MINUS_(a, b) ((a) - (b))
#define TIMES_(a, b) ((a) * (b))
#define OVER_(a, b) ((a) / (b))
#define LESS_(a, b) ((a) < (b) ? 1.0 : 0.0)
#define LESS_EQUAL_(a, b) ((a) <= (b) ? 1.0 : 0.0)
#define LARGER_(a, b) ((a) > (b) ? (a) : (b))
#define SMALLER_(a, b) ((a) < (b) ? (a) : (b))

static void select_lanes(double *restrict r, operation it, const double *rows, const double *numbers)
{
    const double *restrict flag = ROW(it.x);
    double yes[BLOCK], no[BLOCK];
    const double *restrict a = it.y < 0 ? yes : ROW(it.y), *restrict b = it.z < 0 ? no : ROW(it.z);
    for (int n = 0; n < BLOCK && it.y < 0; n++) {
        yes[n] = numbers[-1 - it.y];
    }
    for (int n = 0; n < BLOCK && it.z < 0; n++) {
        no[n] = numbers[-1 - it.z];
    }
    EACH(flag[n] != 0.0 ? a[n] : b[n])
}

static void block(const operation *steps, int64_t count, const double *numbers, double *rows)
{
    for (int64_t at = 0; at < count; at++) {
        const operation it = steps[at];
        double *restrict r = ROW(it.result);
        switch (it.name) {
        TWO_OF(PLUS, PLUS_)
        TWO_OF(MINUS, MINUS_)
        TWO_OF(TIMES, TIMES_)
        TWO_OF(OVER, OVER_)
        TWO_OF(LESS, LESS_)
        TWO_OF(LESS_EQUAL, LESS_EQUAL_)
        TWO_OF(LARGER, LARGER_)
        TWO_OF(SMALLER, SMALLER_)
        ONE_OF(NEGATIVE, -a[n])
        ONE_OF(MAGNITUDE, fabs(a[n]))
        ONE_OF(ROOT, sqrt(a[n]))
        ONE_OF(SINGLE, (double)(float)a[n])
        case SELECT:
            select_lanes(r, it, rows, numbers);
            break;
        }
    }
}

/* `given` is (inputs, lanes), `out` (results, lanes); result n stands in row places[n]. */
void run(const operation *steps, int64_t count, const double *numbers, double *rows, const double *given,
         int64_t inputs, double *out, const int32_t *places, int64_t results, int64_t lanes);

void run(const operation *steps, int64_t count, const double *numbers, double *rows, const double *given,
         int64_t inputs, double *out, const int32_t *places, int64_t results, int64_t lanes)
{
    for (int64_t from = 0; from < lanes; from += BLOCK) {
        const size_t size = sizeof *out * (size_t)(lanes - from < BLOCK ? lanes - from : BLOCK);
        for (int64_t n = 0; n < inputs; n++) {
            memcpy(ROW(n), given + n * lanes + from, size);
        }
        block(steps, count, numbers, rows);
        for (int64_t n = 0; n < results; n++) {
            memcpy(out + n * lanes + from, ROW(places[n]), size);
        }
    }
}
