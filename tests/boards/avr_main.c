/* Ticks the exported mix on an ATmega328P as a test feeds it: PORTB tells where the program stands. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "mix.h"

struct mix_inputs now;
struct mix_state state;
struct mix_outputs out;
volatile uint8_t more;

/* What a tick costs its caller when there is nothing in it but the return. */
static void __attribute__((noinline)) nothing(
    const struct mix_inputs *in, struct mix_state *after, struct mix_outputs *to)
{
    __asm__ volatile("" : : "r"(in), "r"(after), "r"(to) : "memory");
}

int main(void)
{
    mix_start(&state);
    PORTB = 2;
    nothing(&now, &state, &out);
    PORTB = 3;
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
