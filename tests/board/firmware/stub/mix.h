/* A mix that a test holds in its hand: its outputs are what the test writes into `script`, and its time what it writes into
 * `tenths`. What main.c and mix_on_board.c want of an exported mix.h, and no more. */
#ifndef MIX_H
#define MIX_H

#include <stdint.h>

#define MIX_FINGERPRINT "0123456789ab"
#ifndef MIX_TICK_MS
#define MIX_TICK_MS 5
#endif
#define MIX_CHANNELS 2
#define MIX_RECEIVERS { 1, 2 }
#define MIX_HIGHEST_RECEIVER 2
#define MIX_CONTACTS 0
#define MIX_CONTACT_INPUTS { 0 }
#define MIX_HIGHEST_CONTACT_INPUT 0

struct mix_inputs {
    uint16_t channel_a;
    uint16_t channel_b;
};

struct mix_state {
    uint8_t ticks;
};

struct mix_outputs {
    int16_t wire[OUTPUTS];
    int16_t guard_state;
};

extern const char mix_fingerprint[sizeof MIX_FINGERPRINT];

void mix_start(struct mix_state *state);
void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out);

#endif
