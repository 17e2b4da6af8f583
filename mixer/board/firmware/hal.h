/* Everything that main.c wants from a board: one file a chip writes these functions, PORTING.md tells how.
 *
 * Pins, outputs and choices come from config.h (and the wiring.h that it reads), as numbers in the board's own count.
 * None of these functions waits for anything, and every loop in them has a count that the compiler sees: so the longest time
 * of a round can be proven from the image (`stickwright tick`). Interrupts belong to the board's file alone.
 */
#ifndef HAL_H
#define HAL_H

#include <stdint.h>

typedef struct {
    uint16_t time;   /* half microseconds, wrapping: the low half of what hal_now gave at that moment */
    uint16_t levels; /* bit k: wire k */
} hal_edge_t;

/* Why the board started; several may be true. 0: it cannot tell, because a boot loader has taken the flags away. */
#define HAL_STARTED_POWER 1U
#define HAL_STARTED_PIN 2U
#define HAL_STARTED_LOW_SUPPLY 4U
#define HAL_STARTED_WATCHDOG 8U

/* Clock, pins, serial port, battery measurement, outputs and watchdog, all running. It leaves every output at rest; before
 * it, from reset on, output pins are inputs and the pull-downs of the wiring hold them. */
void hal_init(void);

/* Why it started last: HAL_STARTED_ flags. */
uint8_t hal_started(void);

/* The board's name, 1 to 16 printable characters. */
const char *hal_name(void);

/* Half microseconds, wrapping at 2^32. Right when it is called at least once within the watchdog's time. */
uint32_t hal_now(void);

/* How the channel wires stand now; bit k is wire k (with PULSE_SUM there is one, bit 0). A wire whose pin is PIN_NONE is low. */
uint16_t hal_levels(void);

/* The next edge not yet taken, oldest first: HAL_EDGE. Edges must be stamped when they happen, and wires that change at the
 * same moment must get the same stamp. HAL_EDGES_LOST where more came than there is room for,
 * until they are forgotten. */
#define HAL_NO_EDGE 0U
#define HAL_EDGE 1U
#define HAL_EDGES_LOST 2U
uint8_t hal_next_edge(hal_edge_t *edge);

/* Forget all edges not yet taken. hal_levels, asked after this, has what changed meanwhile. */
void hal_forget_edges(void);

/* Bit k: level at contact k, 1 = high. They are pulled up, so an open one is high; one whose pin is PIN_NONE reads 0. */
uint8_t hal_contacts(void);

/* The battery measured since the last call, in mV; 0xFFFF where it is not wired. */
uint16_t hal_battery_mv(void);

/* Send a byte if the serial port has room; 0 when it has none yet. */
uint8_t hal_send(uint8_t byte);

/* What every output's wire carries from now on, in the order of config.h's OUTPUT_ lists: a pulse in us, or a signed duty
 * count of at most the output's top. A pulse changes with its next period and is never cut or stretched. A duty counts from
 * its next period at the latest; 0 is no edge at all, not a narrow one. A direction changes only after the duty pin was low
 * for the rest of a period; until then, some periods at most, the output rests. */
void hal_outputs(const int16_t *wires);

/* Every output to its rest (OUTPUT_RESTS), whatever the outputs are doing, also before the first hal_outputs. It is taken as
 * hal_outputs's values are, with each output's next period: duty 0; for an OUTPUT_BRIDGE both inputs low (coast) or high
 * (brake), see OUTPUT_BRAKES; whole pulses of the rest width. A direction that waits to turn waits no longer. */
void hal_outputs_rest(void);

/* At the end of every pass of the main loop. Here a board does what wants no interrupt, such as turning a direction whose duty
 * has been low long enough. Nothing else is due before `until` (in hal_now's time) unless an edge comes or the serial port
 * gets room, so the board may sleep till then, or return at once. */
void hal_sleep(uint32_t until);

/* The tick's time: 1 as it begins, 0 when its work is done. Sets the TICK_PIN, where there is one, for an oscilloscope. */
void hal_tick(uint8_t works);

/* Tell the watchdog that everything has run since it was told last: once a tick. Not told for WATCHDOG_MS, it resets the
 * board. hal_init starts it. A board that keeps what never changes in RAM sees to it here that it is still the same. */
void hal_well(void);

#endif
