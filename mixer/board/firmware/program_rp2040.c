/* The program and its tables lie in RAM, where a bit may flip. What they add up to is noted at the start and reckoned anew a
 * piece every 2 ms: a flipped bit is found in some tens of them, and the reset copies all of it from flash again. */
#include "program_rp2040.h"
#include "config.h"
#include "rp2040.h"

#define PIECE 256U /* words: rp2040.ld makes the program as many of them as it fills */
#define PIECES_A_TICK (FRAME_US / 2000UL)

extern const uint32_t program_begin[], program_end[]; /* of rp2040.ld */

static uint32_t whole;         /* what all of it adds up to */
static uint32_t so_far;        /* what is before the next piece */
static const uint32_t *next_piece;

static uint32_t sum_of(const uint32_t *piece)
{
    uint32_t sum = 0;
    uint16_t k;

    for (k = 0; k < PIECE; k++) {
        sum += piece[k];
    }
    return sum;
}

void program_start(void)
{
    whole = 0;
    for (next_piece = program_begin; next_piece < program_end; next_piece += PIECE) {
        whole += sum_of(next_piece);
    }
    so_far = 0;
    next_piece = program_begin;
}

void program_reset(void)
{
    PSM_WDSEL = PSM_ALL_BUT_OSCILLATORS;
    WATCHDOG_CTRL = WATCHDOG_CTRL_TRIGGER;
}

static void check_piece(void)
{
    so_far += sum_of(next_piece);
    next_piece += PIECE;
    if (next_piece >= program_end) {
        if (so_far != whole) {
            program_reset();
        }
        so_far = 0;
        next_piece = program_begin;
    }
}

void program_check(void)
{
    uint8_t k;

    for (k = 0; k < PIECES_A_TICK; k++) {
        check_piece();
    }
}
