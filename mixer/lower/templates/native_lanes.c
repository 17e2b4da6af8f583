/* One robot's tick for this machine, @width@ scenarios at once in the lanes of vectors. */
#include <stdint.h>
#include <string.h>

typedef int32_t lanes __attribute__((vector_size(@width@ * 4)));
typedef int32_t unaligned __attribute__((vector_size(@width@ * 4), aligned(4), may_alias));
typedef double reals __attribute__((vector_size(@width@ * 8)));

@functions@

#define AT(base, number) (*(unaligned *)((base) + (number) * stride))
#define READ(base, number) (*(const unaligned *)((base) + (number) * stride))

static inline void tick(const int32_t *in, lanes *state, int32_t *out, int64_t stride)
{
@body@
}

void run_lanes(const int32_t *in, int32_t *kept, int32_t *out, int64_t ticks, int64_t stride);

/* in[tick][input][scenario], kept[slot][scenario], out[tick][signal][scenario]; stride scenarios, a multiple of @width@. */
void run_lanes(const int32_t *in, int32_t *kept, int32_t *out, int64_t ticks, int64_t stride)
{
    for (int64_t block = 0; block < stride; block += @width@) {
        lanes state[@slots@];
        for (int slot = 0; slot < @slots@; slot++) {
            state[slot] = READ(kept + block, slot);
        }
        for (int64_t at = 0; at < ticks; at++) {
            tick(in + block + at * @inputs@ * stride, state, out + block + at * @signals@ * stride, stride);
        }
        for (int slot = 0; slot < @slots@; slot++) {
            AT(kept + block, slot) = state[slot];
        }
    }
}
