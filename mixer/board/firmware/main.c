/* The pulse reader: edges in, a frame out every FRAME_US, nothing waits for anything. */
#include "config.h"
#include "frame.h"
#include "hal.h"
#include "reader.h"
#if WITH_MIX
#include "mix.h"
#include "mix_on_board.h"
#define FINGERPRINT MIX_FINGERPRINT
#else
#define FINGERPRINT ""
#endif

#define IDENTITY_EVERY 64U /* so manieth frame, where the line is idle for most of a frame's time */

typedef struct {
    reader_t reader;
    uint16_t last;     /* when the last frame was due */
    uint16_t sequence;
    uint32_t time_us;
    uint8_t wire[FRAME_LONGEST + FRAME_LONGEST_IDENTITY];
    uint8_t length;
    uint8_t sent;
    uint8_t runs;      /* whether frames have begun */
    uint16_t took;     /* from the last frame's time to its last byte, in half microseconds */
} board_t;

static board_t board;

/* Who this is, behind what is in the buffer. */
static void add_identity(void)
{
    identity_t identity;

    identity.started = hal_started();
    identity.fingerprint = FINGERPRINT;
    identity.board = hal_name();
    board.length = (uint8_t)(board.length + identity_encode(&identity, board.wire + board.length));
}

static void make_frame(void)
{
    uint16_t widths[READER_MOST_CHANNELS];
    frame_t frame;

    reader_take(&board.reader, widths);
    frame.sequence = board.sequence;
    frame.time_us = board.time_us;
    frame.contacts = hal_contacts();
    frame.battery_mv = hal_battery_mv();
    frame.channels = CHANNELS;
    frame.widths = widths;
    frame.outputs = FRAME_NO_MIX;
#if WITH_MIX
    mix_on_board(&frame);
#endif
    if (board.sent == board.length) { /* else the line is too slow; the gap in the sequence tells */
        board.length = frame_encode(&frame, board.wire);
        board.sent = 0;
        if (board.sequence % IDENTITY_EVERY == IDENTITY_EVERY - 1U && board.took < FRAME_TICKS / 3U) {
            add_identity(); /* hardly longer than a frame, so both are through before the next */
        }
    }
    board.sequence++;
}

static void keep_time(void)
{
    uint16_t now = hal_now();

    if ((uint16_t)(now - board.last) >= (uint16_t)FRAME_TICKS) {
        reader_watch(&board.reader, now);
        board.last = (uint16_t)(board.last + FRAME_TICKS);
        board.time_us += FRAME_US;
        make_frame();
    }
}

static void send(void)
{
    if (board.sent < board.length && hal_send(board.wire[board.sent])) {
        board.sent++;
        if (board.sent == board.length) {
            board.took = (uint16_t)(hal_now() - board.last);
        }
    }
}

int main(void)
{
    hal_edge_t edge;

    hal_init();
    reader_init(&board.reader, CHANNELS, PULSE_SUM, hal_levels());
#if WITH_MIX
    mix_on_board_start();
#endif
    board.wire[0] = 0; /* a zero first: whatever was half sent before the reset ends here */
    board.length = 1;
    add_identity();
    for (;;) {
        while (hal_next_edge(&edge)) {
            reader_edge(&board.reader, edge.time, edge.levels);
        }
        if (board.runs) {
            keep_time();
        } else if (board.sent == board.length) { /* the first frame is the one that must not be lost */
            board.runs = 1;
            board.last = hal_now();
        }
        send();
        hal_well();
    }
}
