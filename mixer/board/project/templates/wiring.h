/*
 * Which wire of "@robot@" is on which pin of the @board@, wiring @wiring@.
 *
 * Written by stickwright from the robot's profile: change the profile and export again. WIRING.md says the same in words.
 * Pins are numbers as the board's HAL counts them; 0xFF is no pin.
 */
#ifndef WIRING_H
#define WIRING_H

#define WIRING_BOARD "@WIRING_BOARD@"
#define WIRING_FINGERPRINT "@wiring@"

/* The receiver's channels, from 1. */
#define CHANNELS @CHANNELS@
#define PULSE_SUM @PULSE_SUM@ /* 1: all of them come on one wire */
#define CHANNEL_PINS @CHANNEL_PINS@

/* Contacts, in the order of the profile. */
#define CONTACTS @CONTACTS@
#define CONTACT_INPUT_PINS @CONTACT_INPUT_PINS@

/* @names@ */
#define OUTPUTS @OUTPUTS@
#define OUTPUT_KINDS @OUTPUT_KINDS@
#define OUTPUT_PINS @OUTPUT_PINS@
#define OUTPUT_DIRECTION_PINS @OUTPUT_DIRECTION_PINS@
#define OUTPUT_TOPS @OUTPUT_TOPS@ /* the duty count that is full; 0 for a pulse */
#define OUTPUT_RESTS @OUTPUT_RESTS@ /* what the wire carries at rest: us, or a duty count */
#define OUTPUT_BRAKES @OUTPUT_BRAKES@ /* 1: zero brakes, 0: it coasts */

#define BATTERY_PIN @BATTERY_PIN@
#define BATTERY_FULL_SCALE_MV @BATTERY_FULL_SCALE_MV@ /* the pack that brings its divider to full scale; 0: not wired */

#define SERIAL_PIN @SERIAL_PIN@
#define BAUD @BAUD@
#define FRAME_US @FRAME_US@ /* the mix's tick, with one frame each */
#define TICK_PIN @TICK_PIN@ /* high while a tick works, for a scope */

#endif
