/* One robot's tick for this machine: `run` goes through many ticks, all signals of each are kept. */
#include <stdbool.h>
#include <stdint.h>

@functions@

void run(const int32_t *restrict in, int32_t *restrict state, int32_t *restrict out, int64_t ticks);

static inline void tick(const int32_t *restrict in, int32_t *restrict state, int32_t *restrict out)
{
@body@
}

void run(const int32_t *restrict in, int32_t *restrict state, int32_t *restrict out, int64_t ticks)
{
    for (int64_t at = 0; at < ticks; at++) {
        tick(in + at * @inputs@, state, out + at * @signals@);
    }
}
