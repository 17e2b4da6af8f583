/* Everything the pulse reader wants from a board. Port it by writing these functions for another chip. */
#ifndef HAL_H
#define HAL_H

#include <stdint.h>

typedef struct {
    uint16_t time;   /* half microseconds, wrapping */
    uint16_t levels; /* bit k: wire k */
} hal_edge_t;

/* Why the board started; several may be true. 0: it cannot tell, because a boot loader has taken the flags away. */
#define HAL_STARTED_POWER 1U
#define HAL_STARTED_PIN 2U
#define HAL_STARTED_LOW_SUPPLY 4U
#define HAL_STARTED_WATCHDOG 8U

/* Clock, pins, serial port, battery measurement and watchdog, all running. */
void hal_init(void);

/* Why it started last: HAL_STARTED_ flags. */
uint8_t hal_started(void);

/* The board's name, 1 to 16 printable characters. */
const char *hal_name(void);

/* Half microseconds, wrapping every 32.8 ms. */
uint16_t hal_now(void);

/* How the channel wires stand now; bit k is wire k. */
uint16_t hal_levels(void);

/* The next edge not yet taken, oldest first. 0 when there is none. Edges must be stamped when they happen. */
uint8_t hal_next_edge(hal_edge_t *edge);

/* Bit k: level at contact k, 1 = high. */
uint8_t hal_contacts(void);

/* The battery measured since the last call, in mV; 0xFFFF where it is not wired. Must not wait. */
uint16_t hal_battery_mv(void);

/* Send a byte if the serial port has room; 0 when it has none yet. Must not wait. */
uint8_t hal_send(uint8_t byte);

/* Tell the watchdog that all is well. Not called for 250 ms, it resets the board. */
void hal_well(void);

#endif
