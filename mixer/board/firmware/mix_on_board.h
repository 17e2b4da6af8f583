/* One tick of an exported mix on a frame's own pulses and contacts. */
#ifndef MIX_ON_BOARD_H
#define MIX_ON_BOARD_H

#include "frame.h"

/* Power up: to be called once. */
void mix_on_board_start(void);

/* Run one tick and put the guard's state and what each output's wire carries into the frame. */
void mix_on_board(frame_t *frame);

#endif
