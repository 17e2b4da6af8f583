/* One robot's tick for this machine, @width@ scenarios at once in the lanes of vectors. */
#include <stdint.h>
#include <string.h>

typedef int32_t lanes __attribute__((vector_size(@width@ * 4)));
typedef int32_t unaligned __attribute__((vector_size(@width@ * 4), aligned(4), may_alias));
typedef double reals __attribute__((vector_size(@width@ * 8)));

@functions@

#define AT(base, number) (*(unaligned *)((base) + (number) * wide))
#define READ(base, number) (*(const unaligned *)((base) + (number) * stride))

static inline void tick(const int32_t *in, lanes *state, int32_t *out, int64_t stride, int64_t wide)
{
@body@
}

void run_lanes(const int32_t *in, int32_t *kept, int32_t *out, int64_t ticks, int64_t stride, int64_t wide);

/* in[tick][input][stride], kept[slot][wide], out[tick][signal][wide]; stride scenarios, a multiple of @width@.
   `wide` is stride or a little more: rows a power of two apart would all fall into the same few cache lines. */
void run_lanes(const int32_t *in, int32_t *kept, int32_t *out, int64_t ticks, int64_t stride, int64_t wide)
{
    for (int64_t block = 0; block < stride; block += @width@) {
        lanes state[@slots@];
        for (int slot = 0; slot < @slots@; slot++) {
            state[slot] = AT(kept + block, slot);
        }
        for (int64_t at = 0; at < ticks; at++) {
            const int32_t *row = in + block + at * @inputs@ * stride;
            tick(row, state, out + block + at * @signals@ * wide, stride, wide);
        }
        for (int slot = 0; slot < @slots@; slot++) {
            AT(kept + block, slot) = state[slot];
        }
    }
}
