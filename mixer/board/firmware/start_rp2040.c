/* Vectors and the first lines of C. boot_rp2040.S has copied all of this into RAM. */
#include "program_rp2040.h"
#include "rp2040.h"

typedef void (*vector_t)(void);

extern uint32_t stack_top[], image_end[], zero_begin[], zero_end[]; /* of rp2040.ld */

int main(void);
void start(void);
void io_bank0_interrupt(void);
void timer_interrupt(void);
void uart0_interrupt(void);

void start(void)
{
    uint32_t *word;

    for (word = zero_begin; word < zero_end; word++) {
        *word = 0;
    }
    (void)main();
    for (;;) {
    }
}

/* A fault, or an interrupt that nobody asked for: nothing here can be trusted any more. */
static void give_up(void)
{
    program_reset();
    for (;;) {
    }
}

/* Data sheet 2.4.5; what is not used here gives up as well. */
#define VECTORS (16U + 26U)
__attribute__((section(".vectors"), used)) static const vector_t vectors[VECTORS] = {
    (vector_t)stack_top,
    start,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    (vector_t)image_end, /* not used by the core; the boot stage reads it */
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    timer_interrupt, /* IRQ 0 */
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    io_bank0_interrupt, /* IRQ 13 */
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
    uart0_interrupt, /* IRQ 20 */
    give_up,
    give_up,
    give_up,
    give_up,
    give_up,
};
