#include <util/delay_basic.h>

#include "config.h"
#include "mix.h"

const char mix_fingerprint[sizeof MIX_FINGERPRINT] = MIX_FINGERPRINT;

/* Not initialised: what a test writes before power-up's start code would be lost, so mix_start takes the rests. */
int16_t script[OUTPUTS];
volatile uint16_t tenths; /* of a millisecond, or a little more, that the next tick takes */
volatile uint8_t starts;
volatile uint8_t astray; /* not 0: the next tick goes to address 0, as a broken pointer would */

void mix_start(struct mix_state *state)
{
    static const int16_t rests[OUTPUTS] = OUTPUT_RESTS;
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        script[k] = rests[k];
    }
    state->ticks = 0;
    starts++;
}

void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)
{
    uint16_t left = tenths;
    uint8_t k;

    (void)in;
    tenths = 0; /* what a test writes from now on is for the next one */
    if (astray) {
        __asm__ volatile("jmp 0");
    }
    while (left) {
        _delay_loop_2(400U); /* of 4 cycles */
        left--;
    }
    for (k = 0; k < OUTPUTS; k++) {
        out->wire[k] = *(volatile int16_t *)&script[k];
    }
    state->ticks++;
    out->guard_state = 2;
}
