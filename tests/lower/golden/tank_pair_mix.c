/*
 * The mix of "tank pair", fingerprint 0123456789ab.
 *
 * Written by stickwright from the robot's profile: change the profile and export again.
 * Commands are signed, 16384 is full (Q14). Numbers are proven not to leave their types.
 * There is no loop, no early return, no recursion, no heap and no float, so a tick's time is bounded.
 */
#include "mix.h"

#include <stdbool.h>
#include <stdint.h>

/* as_signed: the number whose two's complement these 16 bits are. */
static inline int16_t as_signed(uint16_t bits)
{
    return bits < 32768u ? (int16_t)bits : (int16_t)(-1 - (int16_t)(65535u - bits));
}

/* multiply_short: the product of two numbers of 16 bits, much cheaper on small boards. */
static inline int32_t multiply_short(int16_t a, int16_t b)
{
    return (int32_t)a * (int32_t)b;
}

/* upper_half: floor(x / 2^16). */
static inline int16_t upper_half(int32_t x)
{
    return as_signed((uint16_t)((uint32_t)x >> 16));
}

/* shift_right_14_short: floor(x / 2^14) where it is proven to fit in 16 bits: two bits up, the upper half. */
static inline int16_t shift_right_14_short(int32_t x)
{
    return upper_half(x * 4);
}

/* mul14_short: the Q14 product of two such numbers, to the nearest, halves away from zero. */
static inline int16_t mul14_short(int16_t a, int16_t b)
{
    int32_t product = multiply_short(a, b);
    if (upper_half(product) < 0) {
        product--;
    }
    return shift_right_14_short(product + 8192);
}

/* scale14: the Q14 product with a constant from 0 to below 1, given four times as large: no shift is left. */
static inline int16_t scale14(int16_t x, uint16_t four_times)
{
    int32_t product = (int32_t)x * (int32_t)four_times;
    if (x < 0) {
        product--;
    }
    return upper_half(product + 32768);
}

/* clamp: x held within low to high. */
static inline int32_t clamp(int32_t x, int32_t low, int32_t high)
{
    return x < low ? low : x > high ? high : x;
}

/* magnitude_short: the same of 16 bits. */
static inline int16_t magnitude_short(int16_t x)
{
    return (int16_t)(x < 0 ? -x : x);
}

/* minimum_short: the same of 16 bits. */
static inline int16_t minimum_short(int16_t a, int16_t b)
{
    return a < b ? a : b;
}

/* clamp_short: the same of 16 bits. */
static inline int16_t clamp_short(int16_t x, int16_t low, int16_t high)
{
    return x < low ? low : x > high ? high : x;
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
    const bool channel_steering_good = (int32_t)in->channel_steering >= 800 && in->channel_steering <= 2200;
    const int16_t toward_channel_steering_age =
        minimum_short((int16_t)(state->channel_steering_age + 1), 125);

    /* channel steering, ticks since the last good pulse */
    const int16_t channel_steering_age = channel_steering_good ? 0 : toward_channel_steering_age;

    /* channel steering, pulse in use, µs */
    const int16_t channel_steering_pulse = channel_steering_good ? (int16_t)in->channel_steering
        : state->channel_steering_pulse;

    /* channel throttle, a good pulse came */
    const bool channel_throttle_good = (int32_t)in->channel_throttle >= 800 && in->channel_throttle <= 2200;
    const int16_t toward_channel_throttle_age =
        minimum_short((int16_t)(state->channel_throttle_age + 1), 125);

    /* channel throttle, ticks since the last good pulse */
    const int16_t channel_throttle_age = channel_throttle_good ? 0 : toward_channel_throttle_age;

    /* channel throttle, pulse in use, µs */
    const int16_t channel_throttle_pulse = channel_throttle_good ? (int16_t)in->channel_throttle
        : state->channel_throttle_pulse;

    /* channel arm, a good pulse came */
    const bool channel_arm_good = (int32_t)in->channel_arm >= 800 && in->channel_arm <= 2200;

    /* channel arm, ticks since the last good pulse */
    const int16_t channel_arm_age = channel_arm_good ? 0
        : minimum_short((int16_t)(state->channel_arm_age + 1), 125);

    /* channel arm, pulse in use, µs */
    const int16_t channel_arm_pulse = channel_arm_good ? (int16_t)in->channel_arm
        : state->channel_arm_pulse;
    const int16_t toward_switch_arm_position = state->switch_arm_position >= 1 ? 1460 : 1540;
    const bool toward_switch_arm_position_2 = toward_switch_arm_position <= channel_arm_pulse;

    /* switch arm, position = guard, arm switch on */
    const int16_t switch_arm_position = toward_switch_arm_position_2 ? 1 : 0;
    const int16_t toward_stick_steering_scaled =
        clamp_short((int16_t)(channel_steering_pulse - 1500), -500, 500);

    /* steering, stick travel as a command */
    const int16_t stick_steering_scaled =
        shift_right_14_short(toward_stick_steering_scaled * 536871 + 8192);
    const int16_t toward_stick_steering_banded =
        (int16_t)(stick_steering_scaled - clamp_short(stick_steering_scaled, -655, 655));

    /* steering, after deadband */
    const int16_t stick_steering_banded =
        (int16_t)(toward_stick_steering_banded + scale14(toward_stick_steering_banded, 2728));
    const int32_t toward_stick_steering_curved =
        multiply_short(stick_steering_banded, stick_steering_banded) + 8192;
    const int32_t toward_stick_steering_curved_2 =
        multiply_short(shift_right_14_short(toward_stick_steering_curved), 4915);
    const int16_t toward_stick_steering_curved_3 =
        (int16_t)(shift_right_14_short(toward_stick_steering_curved_2 + 8192) + 11469);

    /* steering, after expo = steering, after rate = steering, into the mix */
    const int16_t stick_steering_curved =
        mul14_short(stick_steering_banded, toward_stick_steering_curved_3);
    const int16_t toward_stick_throttle_scaled =
        clamp_short((int16_t)(channel_throttle_pulse - 1500), -500, 500);

    /* throttle, stick travel as a command */
    const int16_t stick_throttle_scaled =
        shift_right_14_short(toward_stick_throttle_scaled * 536871 + 8192);
    const int16_t toward_stick_throttle_banded =
        (int16_t)(stick_throttle_scaled - clamp_short(stick_throttle_scaled, -655, 655));

    /* throttle, after deadband */
    const int16_t stick_throttle_banded =
        (int16_t)(toward_stick_throttle_banded + scale14(toward_stick_throttle_banded, 2728));
    const int32_t toward_stick_throttle_curved =
        multiply_short(stick_throttle_banded, stick_throttle_banded) + 8192;
    const int32_t toward_stick_throttle_curved_2 =
        multiply_short(shift_right_14_short(toward_stick_throttle_curved), 4915);
    const int16_t toward_stick_throttle_curved_3 =
        (int16_t)(shift_right_14_short(toward_stick_throttle_curved_2 + 8192) + 11469);

    /* throttle, after expo = throttle, after rate = throttle, into the mix */
    const int16_t stick_throttle_curved =
        mul14_short(stick_throttle_banded, toward_stick_throttle_curved_3);

    /* left, after the mix */
    const int32_t output_left_mixed = (int32_t)stick_steering_curved + stick_throttle_curved;

    /* right, after the mix */
    const int32_t output_right_mixed = (int32_t)stick_throttle_curved - stick_steering_curved;

    /* left, within range = left, after gain = left, after breakaway = left, after limit */
    const int16_t output_left_blended = (int16_t)clamp(output_left_mixed, -16384, 16384);

    /* right, within range = right, after gain = right, after breakaway = right, after limit */
    const int16_t output_right_blended = (int16_t)clamp(output_right_mixed, -16384, 16384);

    /* guard, every stick is at neutral */
    const bool guard_neutral = magnitude_short(stick_steering_scaled) <= 655
        && magnitude_short(stick_throttle_scaled) <= 655;

    /* guard, every channel has signal */
    const bool guard_signal = channel_steering_age < 125 && channel_throttle_age < 125
        && channel_arm_age < 125;
    const bool toward_next_guard_off_for = guard_signal && channel_arm_pulse < toward_switch_arm_position;
    const int16_t toward_next_guard_off_for_2 = minimum_short((int16_t)(state->guard_off_for + 1), 50);
    const bool toward_next_guard_off_for_3 = (channel_arm_good || in->channel_arm == 0)
        && toward_next_guard_off_for;
    const int16_t toward_next_guard_off_for_4 = channel_arm_good || state->guard_off_for >= 50
        ? toward_next_guard_off_for_2 : minimum_short(toward_next_guard_off_for_2, 49);

    /* guard, ticks the arm switch has read off */
    const int16_t next_guard_off_for = toward_next_guard_off_for_3 ? toward_next_guard_off_for_4 : 0;

    /* guard, arm switch seen off */
    const int16_t next_guard_seen_off = next_guard_off_for >= 50 ? 1 : guard_signal ? state->guard_seen_off
        : 0;
    const bool toward_next_guard_held = toward_switch_arm_position_2 && (guard_neutral && guard_signal);

    /* guard, ticks ready for going live */
    const int16_t next_guard_held = toward_next_guard_held && next_guard_seen_off > 0
        ? minimum_short((int16_t)(state->guard_held + 1), 250) : 0;
    const bool toward_guard_state = next_guard_held >= 250 || (toward_switch_arm_position_2
        && state->guard_state == 2);

    /* guard, state */
    const int16_t guard_state = guard_signal ? (toward_guard_state ? 2 : 1) : state->guard_state == 0 ? 0
        : 3;
    const bool toward_output_left_wanted = guard_state == 2;

    /* left, before slew = left, after slew */
    const int16_t output_left_wanted = toward_output_left_wanted ? output_left_blended : 0;

    /* left, on the wire */
    const int16_t output_left_wire = (int16_t)(scale14(output_left_wanted, 2000) + 1500);

    /* right, before slew = right, after slew */
    const int16_t output_right_wanted = toward_output_left_wanted ? output_right_blended : 0;

    /* right, on the wire */
    const int16_t output_right_wire = (int16_t)(scale14((int16_t)-output_right_wanted, 2000) + 1500);

    /* what the next tick starts from, and what goes out */
    state->channel_steering_age = (uint8_t)channel_steering_age;
    state->channel_steering_pulse = channel_steering_pulse;
    state->channel_throttle_age = (uint8_t)channel_throttle_age;
    state->channel_throttle_pulse = channel_throttle_pulse;
    state->channel_arm_age = (uint8_t)channel_arm_age;
    state->channel_arm_pulse = channel_arm_pulse;
    state->switch_arm_position = (uint8_t)switch_arm_position;
    state->guard_state = (uint8_t)guard_state;
    state->guard_held = (uint8_t)next_guard_held;
    state->guard_seen_off = (uint8_t)next_guard_seen_off;
    state->guard_off_for = (uint8_t)next_guard_off_for;
    state->output_left_command = output_left_wanted;
    state->output_right_command = output_right_wanted;
    out->wire_left = output_left_wire;
    out->wire_right = output_right_wire;
    out->guard_state = guard_state;
}
