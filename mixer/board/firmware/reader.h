/* From edges to pulse widths, of config.h's CHANNELS on a wire each, or with PULSE_SUM one after the other on wire 0. Portable
 * C99, no hardware: the tests run it on the host.
 *
 * Times are 16-bit counts of half a microsecond that wrap every 32.8 ms. Call reader_watch at least every 25 ms,
 * so that nothing older is taken for something new.
 */
#ifndef READER_H
#define READER_H

#include <stdint.h>

#include "config.h"

#if PULSE_SUM
#define READER_WIRES 1
#else
#define READER_WIRES CHANNELS
#endif

typedef struct {
    uint16_t levels;       /* bit k: wire k was high at the last edge */
    uint16_t running;      /* bit k: a pulse began on wire k, and when is known */
    uint16_t began[READER_WIRES];
    uint16_t widths[CHANNELS]; /* newest since the last reader_take, 0 = none */
#if PULSE_SUM
    uint16_t train[CHANNELS];  /* the train being received */
    uint8_t at;            /* how many widths the train has; NO_TRAIN before a gap was seen */
#endif
} reader_t;

/* Forget everything. `levels` is how the wires stand now. */
void reader_init(reader_t *reader, uint16_t levels);

/* One or more wires have changed at `time`; bit k of `levels` is wire k now. */
void reader_edge(reader_t *reader, uint16_t time, uint16_t levels);

/* Time passes: drop pulses that never end, and close a pulse-sum train when its gap has come. */
void reader_watch(reader_t *reader, uint16_t now);

/* Move the newest widths out; each is given once, and is 0 when no pulse came since the last call. */
void reader_take(reader_t *reader, uint16_t *widths);

#endif
