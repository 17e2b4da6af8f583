/* Whether the program in RAM is still what was copied there. */
#ifndef PROGRAM_RP2040_H
#define PROGRAM_RP2040_H

/* Note what it adds up to, at 128 MHz in some 10 us for each KB. */
void program_start(void);

/* Once a tick: look at the next KB for every 2 ms of it. Where all of it is through and something is not what it was, the chip is reset. */
void program_check(void);

/* The watchdog resets the chip at once, and every pin floats to its pull-down. */
void program_reset(void);

#endif
