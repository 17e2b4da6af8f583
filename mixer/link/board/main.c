/* The pulse reader: edges in, a frame out every FRAME_US, nothing waits for anything. */
#include "config.h"
#include "frame.h"
#include "hal.h"
#include "reader.h"
#if WITH_MIX
#include "mix_on_board.h"
#endif

typedef struct {
    reader_t reader;
    uint16_t last;     /* when the last frame was due */
    uint16_t sequence;
    uint32_t time_us;
    uint8_t wire[FRAME_LONGEST + 1];
    uint8_t length;
    uint8_t sent;
} board_t;

static board_t board;

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

int main(void)
{
    hal_edge_t edge;

    hal_init();
    reader_init(&board.reader, CHANNELS, PULSE_SUM, hal_levels());
#if WITH_MIX
    mix_on_board_start();
#endif
    board.last = hal_now();
    board.wire[0] = 0; /* a zero first: whatever was half sent before the reset ends here */
    board.length = 1;
    for (;;) {
        while (hal_next_edge(&edge)) {
            reader_edge(&board.reader, edge.time, edge.levels);
        }
        keep_time();
        if (board.sent < board.length && hal_send(board.wire[board.sent])) {
            board.sent++;
        }
        hal_well();
    }
}
