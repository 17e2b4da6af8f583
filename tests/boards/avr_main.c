/* Ticks the exported mix on an ATmega328P as a test feeds it: PORTB tells where the program stands. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "mix.h"

struct mix_inputs now;
struct mix_state state;
struct mix_outputs out;
volatile uint8_t more;

int main(void)
{
    mix_start(&state);
    for (;;) {
        PORTB = 1; /* the test writes `now`, and whether there is more */
        if (!more) {
            break;
        }
        PORTB = 2;
        mix_tick(&now, &state, &out);
        PORTB = 3;
        __asm__ volatile("" ::: "memory");
        PORTB = 4; /* the test reads `state` and `out` */
    }
    cli();
    sleep_enable();
    sleep_cpu();
    for (;;) {
    }
}
