/*
 * Which wire of "@robot@" is on which pin of the @board@, wiring @wiring@.
 *
 * Written by stickwright from the robot's profile: change the profile and export again. WIRING.md says the same in words.
 * Pins are numbers as the board's HAL counts them; 0xFF is no pin.
 */
#ifndef WIRING_H
#define WIRING_H

#define WIRING_BOARD "@board@"
#define WIRING_FINGERPRINT "@wiring@"

/* The receiver's channels, from 1. */
#define CHANNELS @channels@
#define PULSE_SUM @pulse_sum@ /* 1: all of them come on one wire */
#define CHANNEL_PINS @channel_pins@

/* Contacts, in the order of the profile. */
#define CONTACTS @contacts@
#define CONTACT_INPUT_PINS @contact_pins@

/* @names@ */
#define OUTPUTS @outputs@
#define OUTPUT_KINDS @kinds@
#define OUTPUT_PINS @output_pins@
#define OUTPUT_DIRECTION_PINS @direction_pins@
#define OUTPUT_TOPS @tops@ /* the duty count that is full; 0 for a pulse */
#define OUTPUT_RESTS @rests@ /* what the wire carries at rest: us, or a duty count */
#define OUTPUT_BRAKES @brakes@ /* 1: zero brakes, 0: it coasts */

#define BATTERY_PIN @battery_pin@
#define BATTERY_FULL_SCALE_MV @full_scale@ /* the pack that brings its divider to full scale; 0: not wired */

#define SERIAL_PIN @serial_pin@
#define BAUD @baud@UL
#define FRAME_US @frame_us@UL /* the mix's tick, with one frame each */
#define TICK_PIN @tick_pin@ /* high while a tick works, for a scope */

#endif
