#include "frame.h"

#define VERSION 1U

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

uint8_t frame_encode(const frame_t *frame, uint8_t *wire)
{
    writer_t writer = {wire, 1, 0, 0xFFFFU};
    uint16_t check;
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
    check = writer.check;
    stuff(&writer, (uint8_t)(check >> 8));
    stuff(&writer, (uint8_t)check);
    stuff(&writer, 0);
    wire[writer.piece] = 0;
    return writer.at;
}
