/* The frame of FRAMES.md, ready for the wire. Portable C99. */
#ifndef FRAME_H
#define FRAME_H

#include <stdint.h>

#define FRAME_LONGEST 97
#define FRAME_NO_MIX 0xFFU
#define FRAME_NOT_MEASURED 0xFFFFU
#define FRAME_LONGEST_NAME 16
#define FRAME_LONGEST_IDENTITY (8 + FRAME_LONGEST_NAME + 2 + 2)
#define FRAME_WIRING (7 + 2 + 2)

typedef struct {
    uint16_t sequence;
    uint32_t time_us;
    uint8_t contacts;
    uint16_t battery_mv;
    uint8_t channels;
    const uint16_t *widths;
    uint8_t outputs; /* FRAME_NO_MIX: neither guard nor wires are sent */
    uint8_t guard;
    const int16_t *wires;
} frame_t;

/* Which board this is. `fingerprint`: twelve hex digits, or none where no mix runs. */
typedef struct {
    uint8_t started; /* HAL_STARTED_ of hal.h */
    const char *fingerprint;
    const char *board; /* at most FRAME_LONGEST_NAME printable characters */
} identity_t;

/* CRC-16/IBM-3740, one byte further. Starts at 0xFFFF. */
uint16_t frame_check(uint16_t check, uint8_t byte);

/* Write the frame with its closing zero to `wire`, at most FRAME_LONGEST bytes; returns how many. */
uint8_t frame_encode(const frame_t *frame, uint8_t *wire);

/* The same for who this is, at most FRAME_LONGEST_IDENTITY bytes. */
uint8_t identity_encode(const identity_t *identity, uint8_t *wire);

/* The same for which wires it is built, FRAME_WIRING bytes. `wiring`: twelve hex digits, or none without a wiring.h. */
uint8_t wiring_encode(const char *wiring, uint8_t *wire);

#endif
