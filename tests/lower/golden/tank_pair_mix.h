/*
 * The mix of "tank pair", fingerprint 0123456789ab.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Call mix_start once after reset, then mix_tick every 2 ms. README.md shows the loop.
 */
#ifndef MIX_H
#define MIX_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define MIX_FINGERPRINT "0123456789ab"
#define MIX_TICK_MS 2

/* Which wire is which: for each channel the number of the receiver's channel, for each contact that of the board's input,
 * from 1, in the order of struct mix_inputs. A board that is wired in another way reads these no further. */
#define MIX_CHANNELS 3
#define MIX_RECEIVERS { 1, 2, 5 }
#define MIX_HIGHEST_RECEIVER 5
#define MIX_CONTACTS 0
#define MIX_CONTACT_INPUTS { 0 }
#define MIX_HIGHEST_CONTACT_INPUT 0

/* Whether outputs follow the sticks, and why not. */
enum mix_guard {
    MIX_SEARCHING = 0,
    MIX_RESTING = 1,
    MIX_LIVE = 2,
    MIX_STOPPED = 3,
    MIX_FAULTED = 4
};

/* What the board has read since the last tick. */
struct mix_inputs {
    uint16_t channel_steering; /* steering: pulse in µs, 0 = none came since the last tick; good from 800 to 2200 */
    uint16_t channel_throttle; /* throttle: pulse in µs, 0 = none came since the last tick; good from 800 to 2200 */
    uint16_t channel_arm; /* arm: pulse in µs, 0 = none came since the last tick; good from 800 to 2200 */
};

/* What the mix remembers from tick to tick. Only mix_start and mix_tick write it. */
struct mix_state {
    uint8_t channel_steering_age; /* channel steering, ticks since the last good pulse */
    int16_t channel_steering_pulse; /* channel steering, pulse in use, µs */
    uint8_t channel_throttle_age; /* channel throttle, ticks since the last good pulse */
    int16_t channel_throttle_pulse; /* channel throttle, pulse in use, µs */
    uint8_t channel_arm_age; /* channel arm, ticks since the last good pulse */
    int16_t channel_arm_pulse; /* channel arm, pulse in use, µs */
    uint8_t switch_arm_position; /* switch arm, position */
    uint8_t guard_state; /* guard, state */
    uint8_t guard_held; /* guard, ticks ready for going live */
    uint8_t guard_seen_off; /* guard, arm switch seen off */
    uint8_t guard_off_for; /* guard, ticks the arm switch has read off */
    int16_t output_left_command; /* left, after slew */
    int16_t output_right_command; /* right, after slew */
};

/* What goes out now. */
struct mix_outputs {
    int16_t wire_left; /* left: servo pulse in µs, 1000 to 2000, at rest 1500 */
    int16_t wire_right; /* right: servo pulse in µs, 1000 to 2000, at rest 1500 */
    int16_t guard_state; /* one of enum mix_guard */
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
