/* What a builder may choose, each with its default. Give others on the command line: make CHANNELS=6 */
#ifndef CONFIG_H
#define CONFIG_H

#ifndef CHANNELS
#define CHANNELS 8 /* 1 to 8 wires; with PULSE_SUM, 1 to 16 channels on one wire */
#endif
#ifndef PULSE_SUM
#define PULSE_SUM 0 /* 1: all channels one after the other on the first input (PPM) */
#endif
#ifndef CONTACTS
#define CONTACTS 4 /* 0 to 4 end-stop switches */
#endif
#ifndef BATTERY_FULL_SCALE_MV
#define BATTERY_FULL_SCALE_MV 28500 /* battery voltage that brings the divider to 5 V; 0: not wired */
#endif
#ifndef BAUD
#define BAUD 115200UL
#endif
#ifndef FRAME_US
#define FRAME_US 20000UL /* one frame each; with a mix on board, its tick */
#endif
#ifndef WITH_MIX
#define WITH_MIX 0 /* 1: link an exported mix, run it once a frame and report its outputs */
#endif

#define TICKS_PER_US 2U
#define FRAME_TICKS (FRAME_US * TICKS_PER_US)

#if PULSE_SUM
#if CHANNELS < 1 || CHANNELS > 16
#error "CHANNELS must be 1 to 16 with PULSE_SUM"
#endif
#elif CHANNELS < 1 || CHANNELS > 8
#error "CHANNELS must be 1 to 8; for more use PULSE_SUM=1"
#endif
#if CONTACTS < 0 || CONTACTS > 4
#error "CONTACTS must be 0 to 4"
#endif
#if FRAME_US < 2000 || FRAME_US > 25000
#error "FRAME_US must be 2000 to 25000: the clock's 16 bits of half a microsecond must not wrap between two frames"
#endif

#endif
