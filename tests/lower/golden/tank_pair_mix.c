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

/* Tables stay in flash: an AVR has instructions of its own for reading them there. */
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define READ_WORD(number) (pgm_read_word(&(number)))
#define READ_BYTE(number) (pgm_read_byte(&(number)))
#else
#define IN_FLASH
#define READ_WORD(number) (number)
#define READ_BYTE(number) (number)
#endif

/* Whose mix this is, for whoever reads a compiled program. */
const char mix_fingerprint[sizeof MIX_FINGERPRINT] = MIX_FINGERPRINT;

/* Whether a function stays one: small boards have few registers, and lose time where they run out of them. */
#if defined(__GNUC__)
#define APART __attribute__((noinline))
#else
#define APART
#endif

/* What sticks make of their distance from the centre, by the µs, in segments of sixteen: where each one begins, ... */
static const uint16_t amount_base[32] IN_FLASH = {
    0, 65464, 286, 670, 1055, 1436, 1833, 2233, 2631, 3048, 3463, 3896, 4335, 4786, 5248, 5726,
    6219, 6729, 7256, 7803, 8360, 8949, 9557, 10182, 10839, 11514, 12213, 12950, 13707, 14495, 15312, 16166
};

/* ... how it rises by the µs, ... */
static const uint8_t amount_slope[32] IN_FLASH = {
    0, 18, 24, 24, 24, 25, 25, 25, 26, 26, 27, 27, 28, 29, 30, 31,
    32, 33, 34, 35, 37, 38, 39, 41, 42, 44, 46, 47, 49, 51, 53, 54
};

/* ... and what each amount has more than that. */
static const uint8_t amount_more[501] IN_FLASH = {
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
    72, 54, 36, 18, 0, 6, 12, 18, 23, 30, 36, 42, 48, 53, 59, 65,
    1, 1, 1, 1, 1, 0, 1, 1, 0, 0, 0, 0, 1, 0, 0, 0,
    0, 1, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 1, 1, 1, 1,
    0, 0, 1, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 4, 5,
    7, 6, 7, 6, 5, 5, 4, 3, 3, 2, 1, 2, 1, 1, 0, 0,
    3, 2, 2, 2, 1, 2, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 1, 0, 1, 2, 2, 1, 2, 2, 3, 4,
    5, 5, 5, 4, 4, 3, 3, 3, 2, 2, 2, 1, 2, 1, 0, 1,
    0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3,
    4, 4, 3, 3, 2, 3, 2, 2, 1, 1, 2, 1, 1, 1, 1, 0,
    0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 5, 5, 6, 6, 7,
    1, 1, 1, 1, 1, 0, 1, 1, 2, 1, 1, 3, 3, 2, 3, 4,
    1, 2, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1,
    4, 4, 3, 2, 2, 2, 1, 1, 1, 1, 1, 0, 1, 1, 1, 2,
    3, 3, 3, 2, 2, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0, 1,
    4, 3, 3, 3, 2, 1, 1, 1, 1, 1, 1, 0, 0, 1, 0, 1,
    4, 3, 1, 2, 1, 2, 1, 0, 1, 0, 0, 1, 1, 1, 2, 1,
    3, 3, 2, 2, 1, 1, 2, 1, 0, 1, 1, 2, 1, 2, 3, 4,
    0, 1, 0, 0, 1, 0, 0, 1, 1, 0, 1, 1, 3, 2, 3, 4,
    8, 8, 5, 4, 5, 4, 2, 3, 2, 2, 1, 0, 1, 1, 0, 1,
    4, 3, 3, 1, 0, 1, 1, 1, 0, 0, 0, 0, 0, 1, 1, 3,
    2, 1, 2, 2, 0, 1, 1, 2, 1, 1, 3, 3, 3, 4, 5, 5,
    7, 4, 4, 4, 3, 1, 2, 1, 2, 2, 0, 1, 2, 1, 1, 2,
    3, 2, 0, 1, 1, 0, 2, 0, 1, 2, 2, 3, 3, 4, 6, 6,
    3, 4, 3, 2, 1, 1, 2, 1, 0, 1, 1, 1, 1, 1, 1, 4,
    8, 8, 6, 5, 6, 3, 3, 4, 3, 0, 2, 2, 3, 1, 2, 3,
    2, 2, 1, 1, 0, 2, 1, 2, 2, 2, 3, 3, 4, 6, 6, 6,
    4, 3, 4, 2, 1, 3, 2, 0, 2, 2, 2, 4, 3, 5, 6, 6,
    3, 2, 2, 3, 0, 0, 1, 1, 1, 0, 1, 2, 3, 2, 4, 4,
    5, 3, 3, 3, 3, 0, 1, 1, 1, 3, 1, 1, 4, 4, 5, 5,
    0, 1, 0, 0, 2
};

/* amount: one of these amounts. Each table begins with a segment; sums are counted modulo 65,536. */
static inline int amount(uint16_t at)
{
    const uint16_t segment = (uint16_t)(at >> 4);
    const uint8_t within = (uint8_t)(at & 15u);
    const uint16_t risen = (uint16_t)(READ_BYTE(amount_slope[segment]) * within);
    return (int)(uint16_t)(READ_WORD(amount_base[segment]) + risen + READ_BYTE(amount_more[at]));
}

/* magnitude: the absolute value. */
static inline int magnitude(int x)
{
    return x < 0 ? -x : x;
}

/* bytes14: x * factor / 2^(8 + bits) to the nearest, byte by byte: x is no negative number, factor at most 127. */
static inline int bytes14(int x, int factor, uint8_t bits)
{
    const int8_t upper = (int8_t)((uint16_t)x >> 8);
    const uint8_t lower = (uint8_t)((uint16_t)x & 255u);
    const int carried = (int)((uint16_t)(lower * (uint16_t)factor) >> 8);
    return (int)((uint16_t)(upper * factor + carried + (int)(1u << (bits - 1u))) >> bits);
}

/* signed_bytes14: the same of a number of either sign. */
static inline int signed_bytes14(int x, int factor, uint8_t bits)
{
    const int amount = bytes14(magnitude(x), factor, bits);
    return x < 0 ? -amount : amount;
}

/* minimum: the smaller of two. */
static inline int minimum(int a, int b)
{
    return a < b ? a : b;
}

/* maximum: the larger of two. */
static inline int maximum(int a, int b)
{
    return a > b ? a : b;
}

/* counted: one more, at most `most`, which it never is above. */
static inline uint8_t counted(uint8_t count, uint8_t most)
{
    return count < most ? (uint8_t)(count + 1u) : count;
}

/* clipped_sum: a + b held within -16384 to 16384, of two that are no larger: 16 bits hold all of it. */
static inline int clipped_sum(int a, int b)
{
    return b < 0 ? maximum(a, -16384 - b) + b : minimum(a, 16384 - b) + b;
}

/* clipped_difference: a - b, in the same way. */
static inline int clipped_difference(int a, int b)
{
    return clipped_sum(a, -b);
}

/* stick_curved: steering, after expo; throttle, after expo. */
static int stick_curved(int pulse)
{
    const int toward_curved = pulse - 1500;
    const int toward_curved_2 = amount((uint16_t)minimum(magnitude(toward_curved), 500));
    return toward_curved < 0 ? -toward_curved_2 : toward_curved_2;
}

/* output_wire: left, on the wire; right, on the wire. */
static int output_wire(int wanted)
{
    return signed_bytes14(wanted, 125, 4u) + 1500;
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
    /* channel steering, a good pulse came */
    const bool channel_steering_good = (uint16_t)(in->channel_steering - 800u) <= 1400u;
    if (channel_steering_good) {
        /* channel steering, ticks since the last good pulse */
        state->channel_steering_age = 0;

        /* channel steering, pulse in use, µs */
        state->channel_steering_pulse = (int16_t)in->channel_steering;
    } else {
        state->channel_steering_age = counted(state->channel_steering_age, 125u);
    }

    /* channel throttle, a good pulse came */
    const bool channel_throttle_good = (uint16_t)(in->channel_throttle - 800u) <= 1400u;
    if (channel_throttle_good) {
        /* channel throttle, ticks since the last good pulse */
        state->channel_throttle_age = 0;

        /* channel throttle, pulse in use, µs */
        state->channel_throttle_pulse = (int16_t)in->channel_throttle;
    } else {
        state->channel_throttle_age = counted(state->channel_throttle_age, 125u);
    }

    /* channel arm, a good pulse came */
    const bool channel_arm_good = (uint16_t)(in->channel_arm - 800u) <= 1400u;
    if (channel_arm_good) {
        /* channel arm, ticks since the last good pulse */
        state->channel_arm_age = 0;

        /* channel arm, pulse in use, µs */
        state->channel_arm_pulse = (int16_t)in->channel_arm;
    } else {
        state->channel_arm_age = counted(state->channel_arm_age, 125u);
    }
    const int toward_switch_arm_position = state->switch_arm_position >= 1 ? 1460 : 1540;
    const bool toward_switch_arm_position_2 = toward_switch_arm_position <= state->channel_arm_pulse;

    /* switch arm, position = guard, arm switch on */
    state->switch_arm_position = toward_switch_arm_position_2 ? 1 : 0;

    /* guard, every channel has signal */
    const bool guard_signal = state->channel_steering_age < 125 && state->channel_throttle_age < 125
        && state->channel_arm_age < 125;
    if (guard_signal && state->channel_arm_pulse < toward_switch_arm_position && (channel_arm_good
        || in->channel_arm == 0u)) {
        /* guard, ticks the arm switch has read off */
        state->guard_off_for = counted(state->guard_off_for, channel_arm_good ? 50u : 49u);
    } else {
        state->guard_off_for = 0;
    }

    /* guard, arm switch seen off */
    state->guard_seen_off = (uint8_t)(state->guard_off_for >= 50 ? 1 : guard_signal ? state->guard_seen_off
        : 0);

    /* guard, every stick is at neutral */
    if (toward_switch_arm_position_2 && (guard_signal
        && ((uint16_t)(state->channel_steering_pulse - 1480) <= 40u
        && (uint16_t)(state->channel_throttle_pulse - 1480) <= 40u)) && state->guard_seen_off > 0) {
        /* guard, ticks ready for going live */
        state->guard_held = counted(state->guard_held, 250u);
    } else {
        state->guard_held = 0;
    }
    if (guard_signal) {
        /* guard, state */
        state->guard_state = state->guard_held >= 250 || (toward_switch_arm_position_2
            && state->guard_state == 2) ? 2 : 1;
    } else {
        state->guard_state = state->guard_state == 0 ? 0 : 3;
    }
    if (state->guard_state == 2) {
        /* steering, after expo = steering, after rate = steering, into the mix */
        const int stick_steering_curved = stick_curved(state->channel_steering_pulse);

        /* throttle, after expo = throttle, after rate = throttle, into the mix */
        const int stick_throttle_curved = stick_curved(state->channel_throttle_pulse);

        /* left, within range = left, after gain = left, after breakaway = left, after limit */
        state->output_left_command = (int16_t)clipped_sum(stick_steering_curved, stick_throttle_curved);

        /* right, within range = right, after gain = right, after breakaway = right, after limit */
        state->output_right_command =
            (int16_t)clipped_difference(stick_throttle_curved, stick_steering_curved);
    } else {
        state->output_left_command = 0;
        state->output_right_command = 0;
    }

    /* left, on the wire */
    const int output_left_wire = output_wire(state->output_left_command);
    out->wire_left = (int16_t)output_left_wire;

    /* right, on the wire */
    const int output_right_wire = output_wire(-state->output_right_command);
    out->wire_right = (int16_t)output_right_wire;
    out->guard_state = (int16_t)state->guard_state;
}
