/* What a builder may choose, each with its default. Give others on the command line (make CHANNELS=6), or with WITH_WIRING=1
 * in a wiring.h, as `stickwright export --board` writes it. Pins are numbers as the board counts them; PIN_NONE is no pin. */
#ifndef CONFIG_H
#define CONFIG_H

#define PIN_NONE 0xFF

/* What an output's wire carries. Any two of these numbers differ in four bits: one that flips makes none of them another. */
#define OUTPUT_PULSE 0x33  /* a servo pulse on OUTPUT_PINS, 50 a second */
#define OUTPUT_DUTY 0x55   /* a duty on OUTPUT_PINS and a level on OUTPUT_DIRECTION_PINS: low forward (counts above 0), high backward.
                         * What the bridge does at duty 0 is its own matter: OUTPUT_BRAKES changes nothing */
#define OUTPUT_BRIDGE 0x66 /* a bridge with two inputs, both low: coast, both high: brake. OUTPUT_PINS high and the other low drives
                         * forward; the other input is on OUTPUT_DIRECTION_PINS, and both can give a duty. The time that is not
                         * driven is what zero is: coast, or with OUTPUT_BRAKES brake */

#ifndef WITH_WIRING
#define WITH_WIRING 0 /* 1: all of it stands in wiring.h */
#endif
#if WITH_WIRING
#include "wiring.h"
#endif

#ifndef WIRING_FINGERPRINT
#define WIRING_FINGERPRINT "" /* twelve hex digits of all that wiring.h says; none without one */
#endif
#ifndef CHANNELS
#define CHANNELS 8 /* 1 to 8 wires; with PULSE_SUM, 1 to 16 channels on one wire */
#endif
#ifndef PULSE_SUM
#define PULSE_SUM 0 /* 1: all channels one after the other on one wire (PPM) */
#endif
#ifndef CONTACTS
#define CONTACTS 4 /* 0 to 4 end-stop switches; up to 8 with a wiring.h */
#endif
#ifndef BATTERY_FULL_SCALE_MV
#define BATTERY_FULL_SCALE_MV 28500 /* battery voltage that brings the divider to full scale (5 V, or 3.3 V); 0: not wired */
#endif
#ifndef OUTPUTS
#define OUTPUTS 0 /* 0: the bare pulse reader, which drives nothing; else those of the mix, in its order, at most 16 */
#endif
#ifndef TICK_PIN
#define TICK_PIN PIN_NONE /* a pin that is high while a tick works */
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

/* What never changes stays where no bit of it flips: on an AVR it lies in RAM unless it is told not to. */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define READ_BYTE(number) (pgm_read_byte(&(number)))
#define READ_WORD(number) (pgm_read_word(&(number)))
#else
#define IN_FLASH
#define READ_BYTE(number) (number)
#define READ_WORD(number) (number)
#endif

#define TICKS_PER_US 2U
#define FRAME_TICKS (1UL * FRAME_US * TICKS_PER_US)
#define WATCHDOG_MS 64 /* more than two ticks of the longest kind, so that a late tick is told from a hang */

#if PULSE_SUM
#if CHANNELS < 1 || CHANNELS > 16
#error "CHANNELS must be 1 to 16 with PULSE_SUM"
#endif
#elif CHANNELS < 1 || CHANNELS > 8
#error "CHANNELS must be 1 to 8; for more use PULSE_SUM=1"
#endif
#if CONTACTS < 0 || CONTACTS > 8
#error "CONTACTS must be 0 to 8"
#endif
#if FRAME_US < 2000 || FRAME_US > 25000
#error "FRAME_US must be 2000 to 25000: two ticks must be over before the watchdog is"
#endif
#if BAUD < 9600
#error "BAUD must be 9600 or more: the board says who it is before the watchdog's time is over"
#endif
#if OUTPUTS && !WITH_MIX
#error "outputs follow the mix: build with MIX="
#endif
#if OUTPUTS > 16
#error "OUTPUTS must be 16 or less"
#endif

#endif
