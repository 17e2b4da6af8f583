/* The board's whole program: edges in, each tick the mix and its outputs, a frame out. Nothing waits for anything.
 *
 * A tick is due every FRAME_US. One that begins a whole tick late or later has missed pulses and counted its times wrong, so
 * everything begins anew as after power-up: outputs at rest, the mix searching, a hand must arm again.
 *
 * Where more edges came than there is room for, which is noise on a wire, nobody knows what was lost among them: all pulses under
 * way are dropped and it says so. While that goes on the mix gets no pulse, and stops the robot as it does without a radio.
 *
 * Every loop has an end that the compiler sees, and three functions are kept whole under their names: board_round is all that
 * one round of the main loop does, board_tick and board_begin are what only some rounds do. `stickwright tick` proves
 * from the image how long they take at most.
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
#define STARTED_FLOODED 64U /* more edges came than there is room for, and pulses were dropped */

/* What one round takes at most. The rest waits for the next round, which comes at once but for a tick that is due: so a tick
 * waits for four edges and no more, whatever the wires do, and a pulse that ends within microseconds of four others just
 * before a tick may count in the next one. */
#define EDGES_A_ROUND 4U

#define BYTES_A_ROUND 2U

#define KEPT_WHOLE __attribute__((noinline, noclone, used))

typedef struct {
    reader_t reader;
    uint32_t last;     /* when the last frame was due, in half microseconds */
    uint16_t sequence;
    uint32_t time_us;
    uint8_t wire[FRAME_LONGEST + FRAME_LONGEST_IDENTITY];
    uint8_t length;
    uint8_t sent;
    uint8_t runs;      /* whether frames have begun */
    uint8_t met;       /* STARTED_LATE, STARTED_FLOODED: what it has met since it started */
    uint8_t tells;     /* it has met something new, and is to say so with the next frame */
    uint32_t began;    /* when the first byte of what is in the buffer could go */
    uint32_t took;     /* from there to the last byte of the last frame, in half microseconds */
    uint8_t of;        /* so many bytes */
} board_t;

static board_t board;

/* Who this is, behind what is in the buffer. */
static void add_identity(void)
{
    identity_t identity;

    identity.started = hal_started() | board.met;
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

    if (board.tells || (board.sequence & TELL_EVERY)) {
        add_identity();
    } else {
        add_wiring();
    }
    gone = hal_now() - board.last + FRAME_TICKS / 8U;
    if (gone >= FRAME_TICKS || board.took * board.length >= (FRAME_TICKS - gone) * board.of) {
        board.length = frame_alone;
    } else {
        board.tells = 0;
    }
}

/* Nothing is known of any pulse any more: what came before is of no use. */
static void drop_pulses(void)
{
    hal_forget_edges();
    reader_init(&board.reader, hal_levels());
}

/* As after power-up: nothing is known of the wires, nothing moves, and first of all it says who it is. */
KEPT_WHOLE static void board_begin(void)
{
    hal_outputs_rest();
    drop_pulses();
#if WITH_MIX
    mix_on_board_start();
#endif
    board.sequence = 0;
    board.runs = 0;
    board.tells = 0;
    board.wire[0] = 0; /* a zero first: whatever was half sent before ends here */
    board.length = 1;
    board.sent = 0;
    add_wiring();
    add_identity();
    board.last = hal_now();
    board.began = board.last;
    hal_well();
}

/* From pulses to outputs, and a frame of all of it. */
static void make_frame(void)
{
    uint16_t widths[CHANNELS];
    frame_t frame;

    reader_take(&board.reader, widths);
    frame.sequence = board.sequence;
    frame.time_us = board.time_us;
    frame.contacts = hal_contacts();
    frame.battery_mv = hal_battery_mv();
    frame.widths = widths;
    frame.outputs = FRAME_NO_MIX;
    frame.guard = 0;
    frame.wires = 0;
#if WITH_MIX
    mix_on_board(&frame);
#endif
#if OUTPUTS
    hal_outputs(frame.wires);
#endif
    frame.channels = CHANNELS;
    if (board.sent == board.length) { /* else the line is too slow; the gap in the sequence tells */
        board.length = frame_encode(&frame, board.wire);
        board.sent = 0;
        if (board.tells || board.sequence % TELL_EVERY == TELL_EVERY - 1U) {
            tell_if_it_fits();
        }
        board.began = hal_now();
    }
    board.sequence++;
}

KEPT_WHOLE static void board_tick(uint16_t now)
{
    hal_well(); /* here and in board_begin alone: a loop that hangs, or a tick that never ends, does not come here again */
    hal_tick(1);
    reader_watch(&board.reader, now);
    board.last += FRAME_TICKS;
    board.time_us += FRAME_US;
    make_frame();
    hal_tick(0);
}

static void keep_time(void)
{
    uint32_t now = hal_now();
    uint32_t since = now - board.last;

    if (since >= 2UL * FRAME_TICKS) {
        board.time_us += since / TICKS_PER_US;
        board.met |= STARTED_LATE;
        board_begin();
    } else if (since >= FRAME_TICKS) {
        board_tick((uint16_t)now);
    } else {
        /* not yet */
    }
}

/* As many as a serial port holds that has no room for more than the one on the wire and the one behind it. */
static void send(void)
{
    uint8_t before = board.sent;
    uint8_t k;

    for (k = 0; k < BYTES_A_ROUND && board.sent < board.length && hal_send(board.wire[board.sent]); k++) {
        board.sent++;
    }
    if (board.sent != before && board.sent == board.length) {
        board.took = hal_now() - board.began;
        board.of = board.length;
    }
}

static void take_edges(void)
{
    hal_edge_t edge;
    uint8_t found = HAL_EDGE;
    uint8_t k;

    for (k = 0; k < EDGES_A_ROUND && found == HAL_EDGE; k++) {
        found = hal_next_edge(&edge);
        if (found == HAL_EDGE) {
            reader_edge(&board.reader, edge.time, edge.levels);
        } else if (found == HAL_EDGES_LOST) {
            drop_pulses();
            if (!(board.met & STARTED_FLOODED)) {
                board.met |= STARTED_FLOODED;
                board.tells = 1;
            }
        } else {
            /* none is left */
        }
    }
}

KEPT_WHOLE static void board_round(void)
{
    take_edges();
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

int main(void)
{
    hal_init();
    board_begin();
    for (;;) {
        board_round();
    }
}
