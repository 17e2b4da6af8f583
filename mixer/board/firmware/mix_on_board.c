/* An export's inputs are its channels and then its contacts, all uint16_t, its outputs the wires and then the guard's state,
 * all int16_t, in the profile's order; so both are filled by number, whatever their names: a union is the one way of C99 to read
 * what was written under another name. Which of the reader's channels and contacts each of them is says the export. */
#include "config.h"
#include "mix.h"
#include "mix_on_board.h"

#define INPUTS (sizeof(struct mix_inputs) / sizeof(uint16_t))
#define WIRES (sizeof(struct mix_outputs) / sizeof(int16_t) - 1U)
#define LONGEST_FRAME (12UL + 2UL * CHANNELS + 1UL + 2UL * WIRES + 2UL + 2UL)

#if FRAME_US != MIX_TICK_MS * 1000
#error "build with FRAME_US set to the mix's tick: there is one frame a tick"
#endif

typedef char wires_are_short[sizeof(((struct mix_outputs *)0)->guard_state) == sizeof(int16_t) ? 1 : -1];
typedef char inputs_are_channels_and_contacts[INPUTS == MIX_CHANNELS + MIX_CONTACTS ? 1 : -1];
typedef char reader_must_have_all_channels[MIX_HIGHEST_RECEIVER <= CHANNELS ? 1 : -1];
typedef char reader_must_have_all_contacts[MIX_HIGHEST_CONTACT_INPUT <= CONTACTS ? 1 : -1];
typedef char wiring_must_have_all_outputs_or_none[OUTPUTS == 0 || OUTPUTS == WIRES ? 1 : -1];
typedef char frame_must_fit_into_a_tick[LONGEST_FRAME * 10UL * 1000UL < FRAME_US * (BAUD / 1000UL) ? 1 : -1];

static const uint8_t receivers[] IN_FLASH = MIX_RECEIVERS;
static const uint8_t contacts[] IN_FLASH = MIX_CONTACT_INPUTS;
static struct mix_state state;

union inputs {
    struct mix_inputs named;
    uint16_t numbers[INPUTS];
};

/* They stay: the frame is written from them. */
static union {
    struct mix_outputs named;
    int16_t numbers[WIRES + 1U];
} outputs;

void mix_on_board_start(void)
{
    mix_start(&state);
}

void mix_on_board(frame_t *frame)
{
    union inputs in;
    uint8_t k;

    for (k = 0; k < INPUTS; k++) {
        if (k < MIX_CHANNELS) {
            uint16_t width = frame->widths[READ_BYTE(receivers[k]) - 1U];

            in.numbers[k] = (uint16_t)((width >> 1) + (width & 1U)); /* half microseconds, halves rounded up */
        } else {
            in.numbers[k] = ((uint16_t)frame->contacts >> (READ_BYTE(contacts[k - MIX_CHANNELS]) - 1U)) & 1U;
        }
    }
    mix_tick(&in.named, &state, &outputs.named);
    frame->outputs = (uint8_t)WIRES;
    frame->guard = (uint8_t)outputs.numbers[WIRES];
    frame->wires = outputs.numbers;
}
