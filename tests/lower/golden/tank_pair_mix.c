/*
 * The mix of "tank pair", fingerprint 0123456789ab.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Commands are signed, 16384 is full (Q14). Numbers are proven not to leave their types.
 * No loop but one of 14 rounds in a division, no recursion, no heap, no float: a tick's time is bounded.
 * Where a rule of MISRA C:2012 is not kept, README.md says which, and why.
 */
#include "mix.h"

#include <stdbool.h>
#include <stdint.h>

/* Whose mix this is, for whoever reads a compiled program. */
const char mix_fingerprint[sizeof MIX_FINGERPRINT] = MIX_FINGERPRINT;

/* Whether a function stays one: small boards have few registers, and lose time where they run out of them. */
#if defined(__GNUC__)
#define APART __attribute__((noinline))
#else
#define APART
#endif

/* magnitude: the absolute value. */
static inline int magnitude(int x)
{
    return x < 0 ? -x : x;
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

/* product14: the Q14 product of two numbers that are not negative: of twice each the upper half is it, to the nearest. */
static inline int product14(int a, int b)
{
    return (int)(((uint32_t)(uint16_t)((uint16_t)a * 2u) * (uint16_t)((uint16_t)b * 2u) + 32768u) >> 16);
}

/* minimum: the smaller of two. */
static inline int minimum(int a, int b)
{
    return a < b ? a : b;
}

/* clamp_long: the same of 32 bits. */
static inline int32_t clamp_long(int32_t x, int32_t low, int32_t high)
{
    return x < low ? low : x > high ? high : x;
}

/* stick_curved: steering, after expo; throttle, after expo. */
static int stick_curved(int pulse)
{
    const int toward_curved = pulse - 1500;
    const int toward_curved_2 = minimum(magnitude(toward_curved), 500);
    const int toward_curved_3 = toward_curved_2 * 32 + part14(toward_curved_2, 50332u);
    const int toward_curved_4 = toward_curved_3 - minimum(toward_curved_3, 655);
    const int toward_curved_5 = toward_curved_4 + part14(toward_curved_4, 2728u);
    const int toward_curved_6 = part14(product14(toward_curved_5, toward_curved_5), 19660u) + 11469;
    const int toward_curved_7 = product14(toward_curved_5, toward_curved_6);
    return toward_curved < 0 ? -toward_curved_7 : toward_curved_7;
}

/* stage_1: 1 of 3. */
static APART void stage_1(const struct mix_inputs *in, struct mix_state *state)
{
    /* channel steering, a good pulse came */
    const bool channel_steering_good = in->channel_steering >= 800u && in->channel_steering <= 2200u;
    if (channel_steering_good) {
        /* channel steering, ticks since the last good pulse */
        state->channel_steering_age = 0;

        /* channel steering, pulse in use, µs */
        state->channel_steering_pulse = (int16_t)in->channel_steering;
    } else {
        state->channel_steering_age = (uint8_t)minimum(state->channel_steering_age + 1, 125);
    }

    /* channel throttle, a good pulse came */
    const bool channel_throttle_good = in->channel_throttle >= 800u && in->channel_throttle <= 2200u;
    if (channel_throttle_good) {
        /* channel throttle, ticks since the last good pulse */
        state->channel_throttle_age = 0;

        /* channel throttle, pulse in use, µs */
        state->channel_throttle_pulse = (int16_t)in->channel_throttle;
    } else {
        state->channel_throttle_age = (uint8_t)minimum(state->channel_throttle_age + 1, 125);
    }
}

/* stage_2: 2 of 3. */
static APART void stage_2(const struct mix_inputs *in, struct mix_state *state)
{
    /* channel arm, a good pulse came */
    const bool channel_arm_good = in->channel_arm >= 800u && in->channel_arm <= 2200u;
    if (channel_arm_good) {
        /* channel arm, ticks since the last good pulse */
        state->channel_arm_age = 0;

        /* channel arm, pulse in use, µs */
        state->channel_arm_pulse = (int16_t)in->channel_arm;
    } else {
        state->channel_arm_age = (uint8_t)minimum(state->channel_arm_age + 1, 125);
    }
    const int toward_switch_arm_position = state->switch_arm_position >= 1 ? 1460 : 1540;
    const bool toward_switch_arm_position_2 = toward_switch_arm_position <= state->channel_arm_pulse;

    /* switch arm, position = guard, arm switch on */
    state->switch_arm_position = toward_switch_arm_position_2 ? 1 : 0;
    const bool toward_guard_neutral = state->channel_steering_pulse >= 1480
        && state->channel_steering_pulse <= 1520;
    const bool toward_guard_neutral_2 = state->channel_throttle_pulse >= 1480
        && state->channel_throttle_pulse <= 1520;

    /* guard, every stick is at neutral */
    const bool guard_neutral = toward_guard_neutral && toward_guard_neutral_2;

    /* guard, every channel has signal */
    const bool guard_signal = state->channel_steering_age < 125 && state->channel_throttle_age < 125
        && state->channel_arm_age < 125;
    const bool toward_next_guard_off_for = guard_signal
        && state->channel_arm_pulse < toward_switch_arm_position;
    const bool toward_next_guard_off_for_2 = (channel_arm_good || in->channel_arm == 0u)
        && toward_next_guard_off_for;
    if (toward_next_guard_off_for_2) {
        const uint8_t toward_next_guard_off_for_3 = (uint8_t)minimum(state->guard_off_for + 1, 50);

        /* guard, ticks the arm switch has read off */
        state->guard_off_for = (uint8_t)(channel_arm_good || state->guard_off_for >= 50
            ? toward_next_guard_off_for_3 : minimum(toward_next_guard_off_for_3, 49));
    } else {
        state->guard_off_for = 0;
    }

    /* guard, arm switch seen off */
    state->guard_seen_off = (uint8_t)(state->guard_off_for >= 50 ? 1 : guard_signal ? state->guard_seen_off
        : 0);
    const bool toward_next_guard_held = toward_switch_arm_position_2 && (guard_neutral && guard_signal);
    if (toward_next_guard_held && state->guard_seen_off > 0) {
        /* guard, ticks ready for going live */
        state->guard_held = (uint8_t)minimum(state->guard_held + 1, 250);
    } else {
        state->guard_held = 0;
    }
    if (guard_signal) {
        const bool toward_guard_state = state->guard_held >= 250 || (toward_switch_arm_position_2
            && state->guard_state == 2);

        /* guard, state */
        state->guard_state = toward_guard_state ? 2 : 1;
    } else {
        state->guard_state = state->guard_state == 0 ? 0 : 3;
    }
}

/* stage_3: 3 of 3. */
static APART void stage_3(struct mix_state *state, struct mix_outputs *out)
{
    out->guard_state = (int16_t)state->guard_state;
    if (state->guard_state == 2) {
        /* steering, after expo = steering, after rate = steering, into the mix */
        const int stick_steering_curved = stick_curved(state->channel_steering_pulse);

        /* throttle, after expo = throttle, after rate = throttle, into the mix */
        const int stick_throttle_curved = stick_curved(state->channel_throttle_pulse);

        /* left, after the mix */
        const int32_t output_left_mixed = (int32_t)stick_steering_curved + stick_throttle_curved;

        /* left, within range = left, after gain = left, after breakaway = left, after limit */
        state->output_left_command = (int16_t)clamp_long(output_left_mixed, -16384, 16384);

        /* right, after the mix */
        const int32_t output_right_mixed = (int32_t)stick_throttle_curved - stick_steering_curved;

        /* right, within range = right, after gain = right, after breakaway = right, after limit */
        state->output_right_command = (int16_t)clamp_long(output_right_mixed, -16384, 16384);
    } else {
        state->output_left_command = 0;
        state->output_right_command = 0;
    }

    /* left, on the wire */
    const int output_left_wire = scale14(state->output_left_command, 2000u) + 1500;
    out->wire_left = (int16_t)output_left_wire;

    /* right, on the wire */
    const int output_right_wire = scale14(-state->output_right_command, 2000u) + 1500;
    out->wire_right = (int16_t)output_right_wire;
}

void mix_start(struct mix_state *state)
{
    state->channel_steering_age = 125;
    state->channel_steering_pulse = 1500;
    state->channel_throttle_age = 125;
    state->channel_throttle_pulse = 1500;
    state->channel_arm_age = 125;
    state->channel_arm_pulse = 1000;
    state->switch_arm_position = 0;
    state->guard_state = 0;
    state->guard_held = 0;
    state->guard_seen_off = 0;
    state->guard_off_for = 0;
    state->output_left_command = 0;
    state->output_right_command = 0;
}

void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)
{
    stage_1(in, state);
    stage_2(in, state);
    stage_3(state, out);
}
