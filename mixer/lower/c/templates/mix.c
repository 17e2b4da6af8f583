/*
 * The mix of "@robot@", fingerprint @fingerprint@.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Commands are signed, 16384 is full (Q14). Numbers are proven not to leave their types.
 * There is no loop, no early return, no recursion, no heap and no float, so a tick's time is bounded.
 */
#include "mix.h"

#include <stdbool.h>
#include <stdint.h>

@functions@

void mix_start(struct mix_state *state)
{
@start@
}

void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)
{
@body@
}
