/*
 * The mix of "@robot@", fingerprint @fingerprint@.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Call mix_start once after reset, then mix_tick every @tick_ms@ ms. README.md shows the loop.
 */
#ifndef MIX_H
#define MIX_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define MIX_FINGERPRINT "@fingerprint@"
#define MIX_TICK_MS @tick_ms@

/* Which wire is which: for each channel the number of the receiver's channel, for each contact that of the board's input,
 * from 1, in the order of struct mix_inputs. A board that is wired in another way reads these no further. */
#define MIX_CHANNELS @channels@
#define MIX_RECEIVERS { @receivers@ }
#define MIX_HIGHEST_RECEIVER @highest_receiver@
#define MIX_CONTACTS @contacts@
#define MIX_CONTACT_INPUTS { @contact_inputs@ }
#define MIX_HIGHEST_CONTACT_INPUT @highest_input@

/* Whether outputs follow the sticks, and why not. */
enum mix_guard {
@states@
};

/* What the board has read since the last tick. */
struct mix_inputs {
@inputs@
};

/* What the mix remembers from tick to tick. Only mix_start and mix_tick write it. */
struct mix_state {
@state@
};

/* What goes out now. */
struct mix_outputs {
@outputs@
};

/* MIX_FINGERPRINT as a constant of the program, so that a compiled one tells whose mix it carries. */
extern const char mix_fingerprint[sizeof MIX_FINGERPRINT];

/* The state of a board that has just been powered up: nothing moves until it is armed. */
void mix_start(struct mix_state *state);

/* One tick. Reads `in`, brings `state` forward, writes every member of `out`. */
void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out);

#ifdef __cplusplus
}
#endif

#endif
