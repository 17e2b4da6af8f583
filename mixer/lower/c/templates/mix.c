/*
 * The mix of "@robot@", fingerprint @fingerprint@.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Commands are signed, 16384 is full (Q14). Numbers are proven not to leave their types.
 * No loop but one of 14 rounds in a division, no recursion, no heap, no float: a tick's time is bounded.
 * Where a rule of MISRA C:2012 is not kept, README.md says which, and why.
 */
#include "mix.h"

#include <stdbool.h>
#include <stdint.h>
@flash@
/* Whose mix this is, for whoever reads a compiled program. */
const char mix_fingerprint[sizeof MIX_FINGERPRINT] = MIX_FINGERPRINT;

/* Whether a function stays one: small boards have few registers, and lose time where they run out of them. */
#if defined(__GNUC__)
#define APART __attribute__((noinline))
#else
#define APART
#endif

@functions@

void mix_start(struct mix_state *state)
{
@start@
}

void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)
{
@body@
}
