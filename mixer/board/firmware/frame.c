#include "frame.h"

#define VERSION 1U
#define IDENTITY 129U
#define TELLS_WIRING 32U /* beside why it started: its wiring comes in a frame of its own */
#define WIRING 130U
#define FINGERPRINT_BYTES 6U

/* COBS and check as the bytes come: `piece` is where the length of the present piece will stand. */
typedef struct {
    uint8_t *wire;
    uint8_t at;
    uint8_t piece;
    uint16_t check;
} writer_t;

uint16_t frame_check(uint16_t check, uint8_t byte)
{
    check = (uint16_t)((check >> 8) | (check << 8));
    check ^= byte;
    check ^= (uint16_t)((check & 0xFFU) >> 4);
    check ^= (uint16_t)(check << 12);
    check ^= (uint16_t)((check & 0xFFU) << 5);
    return check;
}

static void stuff(writer_t *writer, uint8_t byte)
{
    if (byte) {
        writer->wire[writer->at++] = byte;
    } else {
        writer->wire[writer->piece] = (uint8_t)(writer->at - writer->piece);
        writer->piece = writer->at++;
    }
}

static void put(writer_t *writer, uint8_t byte)
{
    writer->check = frame_check(writer->check, byte);
    stuff(writer, byte);
}

static void put16(writer_t *writer, uint16_t number)
{
    put(writer, (uint8_t)number);
    put(writer, (uint8_t)(number >> 8));
}

/* Check and closing zero; how many bytes it all is. */
static uint8_t end(writer_t *writer)
{
    uint16_t check = writer->check;

    stuff(writer, (uint8_t)(check >> 8));
    stuff(writer, (uint8_t)check);
    stuff(writer, 0);
    writer->wire[writer->piece] = 0;
    return writer->at;
}

uint8_t frame_encode(const frame_t *frame, uint8_t *wire)
{
    writer_t writer = {wire, 1, 0, 0xFFFFU};
    uint8_t k;

    put(&writer, VERSION);
    put(&writer, frame->channels);
    put(&writer, frame->outputs);
    put16(&writer, frame->sequence);
    put16(&writer, (uint16_t)frame->time_us);
    put16(&writer, (uint16_t)(frame->time_us >> 16));
    put(&writer, frame->contacts);
    put16(&writer, frame->battery_mv);
    for (k = 0; k < frame->channels; k++) {
        put16(&writer, frame->widths[k]);
    }
    if (frame->outputs != FRAME_NO_MIX) {
        put(&writer, frame->guard);
        for (k = 0; k < frame->outputs; k++) {
            put16(&writer, (uint16_t)frame->wires[k]);
        }
    }
    return end(&writer);
}

static uint8_t digit_of(char letter)
{
    return (uint8_t)(letter <= '9' ? letter - '0' : letter - 'a' + 10);
}

/* Twelve hex digits, two a byte; zeros where there are none. */
static void put_fingerprint(writer_t *writer, const char *digit)
{
    uint8_t k;

    for (k = 0; k < FINGERPRINT_BYTES; k++) {
        if (*digit) {
            put(writer, (uint8_t)((uint8_t)(digit_of(digit[0]) << 4) | digit_of(digit[1])));
            digit += 2;
        } else {
            put(writer, 0);
        }
    }
}

uint8_t wiring_encode(const char *wiring, uint8_t *wire)
{
    writer_t writer = {wire, 1, 0, 0xFFFFU};

    put(&writer, WIRING);
    put_fingerprint(&writer, wiring);
    return end(&writer);
}

uint8_t identity_encode(const identity_t *identity, uint8_t *wire)
{
    writer_t writer = {wire, 1, 0, 0xFFFFU};
    uint8_t k;

    put(&writer, IDENTITY);
    put(&writer, (uint8_t)(identity->started | TELLS_WIRING));
    put_fingerprint(&writer, identity->fingerprint);
    for (k = 0; k < FRAME_LONGEST_NAME && identity->board[k]; k++) {
        put(&writer, (uint8_t)identity->board[k]);
    }
    return end(&writer);
}
