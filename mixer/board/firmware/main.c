/* The board's whole program: edges in, each tick the mix and its outputs, a frame out. Nothing waits for anything.
 *
 * A tick is due every FRAME_US. One that begins a whole tick late or later has missed pulses and counted its times wrong, so
 * everything begins anew as after power-up: outputs at rest, the mix searching, a hand must arm again.
 */
#include "config.h"
#include "frame.h"
#include "hal.h"
#include "reader.h"
#if WITH_MIX
#include "mix.h"
#include "mix_on_board.h"
#define FINGERPRINT mix_fingerprint
#else
#define FINGERPRINT ""
#endif

#define TELL_EVERY 32U     /* so manieth frame it says for which wires it is built, and as many later who it is */
#define STARTED_LATE 16U   /* beside the HAL_STARTED_ flags: a tick came late, and everything began anew */

typedef struct {
    reader_t reader;
    uint32_t last;     /* when the last frame was due, in half microseconds */
    uint16_t sequence;
    uint32_t time_us;
    uint8_t wire[FRAME_LONGEST + FRAME_LONGEST_IDENTITY];
    uint8_t length;
    uint8_t sent;
    uint8_t runs;      /* whether frames have begun */
    uint8_t late;      /* STARTED_LATE once a tick came late */
    uint32_t began;    /* when the first byte of what is in the buffer could go */
    uint32_t took;     /* from there to the last byte of the last frame, in half microseconds */
    uint8_t of;        /* so many bytes */
} board_t;

static board_t board;

/* Who this is, behind what is in the buffer. */
static void add_identity(void)
{
    identity_t identity;

    identity.started = hal_started() | board.late;
    identity.fingerprint = FINGERPRINT;
    identity.board = hal_name();
    board.length = (uint8_t)(board.length + identity_encode(&identity, board.wire + board.length));
}

/* For which wires it is built; before who it is, so that whoever hears both knows the board at once. */
static void add_wiring(void)
{
    board.length = (uint8_t)(board.length + wiring_encode(WIRING_FINGERPRINT, board.wire + board.length));
}

/* Only where both are through before the next frame is due, by what this tick has taken and the last frame's bytes took. An
 * eighth of a tick is left for edges that come meanwhile. */
static void tell_if_it_fits(void)
{
    uint8_t frame_alone = board.length;
    uint32_t gone;

    if (board.sequence & TELL_EVERY) {
        add_identity();
    } else {
        add_wiring();
    }
    gone = hal_now() - board.last + FRAME_TICKS / 8U;
    if (gone >= FRAME_TICKS || board.took * board.length >= (FRAME_TICKS - gone) * board.of) {
        board.length = frame_alone;
    }
}

/* As after power-up: nothing is known of the wires, nothing moves, and first of all it says who it is. */
static void begin(void)
{
    hal_edge_t edge;

    hal_outputs_rest();
    while (hal_next_edge(&edge)) {
        /* it came before, and is of no use any more */
    }
    reader_init(&board.reader, CHANNELS, PULSE_SUM, hal_levels());
#if WITH_MIX
    mix_on_board_start();
#endif
    board.sequence = 0;
    board.runs = 0;
    board.wire[0] = 0; /* a zero first: whatever was half sent before ends here */
    board.length = 1;
    board.sent = 0;
    add_wiring();
    add_identity();
    board.last = hal_now();
    board.began = board.last;
    hal_well();
}

static void make_frame(void)
{
    uint16_t widths[READER_MOST_CHANNELS];
    frame_t frame = {0};

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
#if OUTPUTS
    hal_outputs(frame.wires);
#endif
    if (board.sent == board.length) { /* else the line is too slow; the gap in the sequence tells */
        board.length = frame_encode(&frame, board.wire);
        board.sent = 0;
        if (board.sequence % TELL_EVERY == TELL_EVERY - 1U) {
            tell_if_it_fits();
        }
        board.began = hal_now();
    }
    board.sequence++;
}

static void keep_time(void)
{
    uint32_t now = hal_now();
    uint32_t since = now - board.last;

    if (since >= 2UL * FRAME_TICKS) {
        board.time_us += since / TICKS_PER_US;
        board.late = STARTED_LATE;
        begin();
    } else if (since >= FRAME_TICKS) {
        hal_well(); /* here and in begin() alone: a loop that hangs, or a tick that never ends, does not come here again */
        hal_tick(1);
        reader_watch(&board.reader, (uint16_t)now);
        board.last += FRAME_TICKS;
        board.time_us += FRAME_US;
        make_frame();
        hal_tick(0);
    } else {
        /* not yet */
    }
}

static void send(void)
{
    if (board.sent < board.length && hal_send(board.wire[board.sent])) {
        board.sent++;
        if (board.sent == board.length) {
            board.took = hal_now() - board.began;
            board.of = board.length;
        }
    }
}

int main(void)
{
    hal_edge_t edge;

    hal_init();
    begin();
    for (;;) {
        while (hal_next_edge(&edge)) {
            reader_edge(&board.reader, edge.time, edge.levels);
        }
        if (board.runs) {
            keep_time();
        } else if (board.sent == board.length) { /* the first frame is the one that must not be lost */
            board.runs = 1;
            board.last = hal_now();
        } else {
            /* it still says who it is */
        }
        send();
        hal_sleep(board.last + FRAME_TICKS);
    }
}
