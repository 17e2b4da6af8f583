/* ATmega328P at 16 MHz, 5 V. Pins count 8 * port + bit: PB0 to PB7 are 0 to 7, PC0 to PC6 8 to 14, PD0 to PD7 16 to 23;
 * ADC6 and ADC7, which only the square chip has, are 24 and 25. kinds/atmega328p.py says what each can do.
 *
 * Timer 1 counts half microseconds from 0 to 39,999 and over: that is the clock, and the 20 ms of the servo pulses on PB1 and
 * PB2. Its compare units make the pulses without the program, and take a new width only as the next one begins. Timers 0 and 2
 * give duties in the same way, counting up to 255 and down again (phase correct: a count of 0 is never high, not for a spike
 * either, and 255 always).
 *
 * Two interrupts there are (capture_atmega328p.S): one stamps edges, one counts the clock's periods and lets itself be
 * interrupted by the first. Everything else is polled, because each further interrupt would smear the stamps.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>

#include "config.h"
#include "hal.h"

#if F_CPU != 16000000UL
#error "written for 16 MHz: timer 1 divides by 8 to half microseconds"
#endif
#ifndef CHANNEL_PINS
#define CHANNEL_PINS { 0, 1, 2, 3, 8, 9, 10, 11 } /* PB0 to PB3, PC0 to PC3 */
#endif
#ifndef CONTACT_INPUT_PINS
#define CONTACT_INPUT_PINS { 20, 21, 22, 23 } /* PD4 to PD7 */
#endif
#ifndef BATTERY_PIN
#define BATTERY_PIN 13 /* PC5, ADC5 */
#endif
#ifndef DUTY_HZ
#define DUTY_HZ 31373 /* not heard; 3922: heard, for bridges that do not switch so fast */
#endif
#if DUTY_HZ == 31373
#define DUTY_CLOCK 1U  /* 16 MHz; a period is 510 counts, 255 up and 255 down */
#define DUTY_PERIOD 64U /* half microseconds, rounded up */
#elif DUTY_HZ == 3922
#define DUTY_CLOCK 2U /* 16 MHz / 8 */
#define DUTY_PERIOD 510U
#else
#error "DUTY_HZ must be 31373 or 3922"
#endif

#define WIRES (PULSE_SUM ? 1 : CHANNELS)
#define CLOCK_PERIOD 40000U
#define BAUD_DIVISOR ((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1UL)

/* The pins of the compare units: PB1, PB2, PB3, PD3, PD6, PD5. */
enum { OC1A_PIN = 1, OC1B_PIN = 2, OC2A_PIN = 3, OC2B_PIN = 19, OC0A_PIN = 22, OC0B_PIN = 21 };

extern volatile uint8_t capture_ring[256];
extern volatile uint8_t capture_head;
#define RING_ENTRIES 64U
#define ENTRY 0xFCU /* of a low address: where an entry begins */
#define TAKEN 0xFFU /* in place of an entry's levels of port C, which has no eighth pin */
#define CLOCK_PERIODS GPIOR0 /* counted by the interrupt at the end of each */

static const uint8_t channel_pins[] IN_FLASH = CHANNEL_PINS;
static uint8_t started; /* MCUSR as it was: its bits 0 to 3 are the HAL_STARTED_ flags in their order */
static uint8_t taken;   /* low address of the first ring entry not yet taken */
static uint8_t bits_on_b[WIRES], bits_on_c[WIRES]; /* each channel's bit of its port; 0 on the other */

static uint32_t clock_base; /* hal_now's time at the begin of the period that is under way */
static uint8_t clock_periods;

/* ---- Pins --------------------------------------------------------------------------------------------------------- */

/* The three registers of a port lie one after the other: PIN, DDR, PORT. */
static volatile uint8_t *port_of(uint8_t pin)
{
    return &PINB + 3U * (pin >> 3);
}

static uint8_t bit_of(uint8_t pin)
{
    return (uint8_t)(1U << (pin & 7U));
}

static void write_pin(uint8_t pin, uint8_t level)
{
    if (level) {
        port_of(pin)[2] |= bit_of(pin);
    } else {
        port_of(pin)[2] &= (uint8_t)~bit_of(pin);
    }
}

static void make_output(uint8_t pin)
{
    port_of(pin)[1] |= bit_of(pin);
}

/* ---- Clock and edges ---------------------------------------------------------------------------------------------- */

/* Where the stamping interrupt writes next: it may change from one asking to the other. */
static uint8_t next_entry(void)
{
    return capture_head;
}

/* A 16-bit register is read in two halves, the upper one by way of a latch that all of timer 1's registers share. The stamping
 * interrupt reads the counter through it too: one that comes between the halves leaves its own upper half there. Holding it off
 * would smear its stamps; so read freely, and only where an interrupt has run meanwhile once more with both held off, rather than
 * again and again: a reading has an end whatever the wires do. The other interrupt touches no 16-bit register, and shows in the
 * count of periods, which belongs to the reading as well. Edges may keep it off, since they go first; then a period that has ended
 * shows in its flag, and its work is done here. */
uint32_t hal_now(void)
{
    uint8_t head = next_entry();
    uint8_t periods = CLOCK_PERIODS;
    uint16_t now = TCNT1;

    if (head != next_entry() || periods != CLOCK_PERIODS) {
        uint8_t flags = SREG;

        cli();
        now = TCNT1;
        if ((TIFR1 & (1U << TOV1)) && now < CLOCK_PERIOD - 8U) { /* else the flag, set with the last count, came after the reading */
            TIFR1 = (uint8_t)(1U << TOV1);
            CLOCK_PERIODS++;
        }
        periods = CLOCK_PERIODS;
        SREG = flags;
    }
    if (periods != clock_periods) {
        clock_base += (uint32_t)(uint8_t)(periods - clock_periods) * CLOCK_PERIOD;
        clock_periods = periods;
    }
    return clock_base + now;
}

static uint16_t wires_of(uint8_t port_b, uint8_t port_c)
{
    uint16_t wires = 0;
    uint8_t k;

    for (k = 0; k < WIRES; k++) {
        if ((port_b & bits_on_b[k]) | (port_c & bits_on_c[k])) {
            wires |= (uint16_t)(1U << k);
        }
    }
    return wires;
}

uint16_t hal_levels(void)
{
    return wires_of(PINB, PINC);
}

/* No edge comes into the ring meanwhile: 30 us or so, and one that is stamped late by that is no change to the levels that are
 * read after this. */
void hal_forget_edges(void)
{
    uint8_t flags = SREG;
    uint8_t k;

    cli();
    for (k = 0; k < RING_ENTRIES; k++) {
        capture_ring[(uint8_t)(4U * k + 3U)] = TAKEN;
    }
    capture_head &= ENTRY; /* a bit that flipped there is a full ring, and comes here */
    taken = capture_head;
    SREG = flags;
}

/* Whether the ring is full, or more than full: then what the next edge would be written over has not been taken. It looks
 * again with edges held off, for 10 cycles, since one may just have come and moved on. */
static uint8_t ring_is_full(void)
{
    uint8_t is_full = (uint8_t)(capture_ring[(uint8_t)(capture_head + 3U)] != TAKEN);

    if (is_full) {
        uint8_t flags = SREG;

        cli();
        is_full = (uint8_t)(capture_ring[(uint8_t)(capture_head + 3U)] != TAKEN);
        SREG = flags;
    }
    return is_full;
}

/* A stamp counts from the begin of its period, which was less than a period ago: edges are taken more often than that. */
uint8_t hal_next_edge(hal_edge_t *edge)
{
    uint32_t now;
    uint16_t at;
    uint16_t stamp;

    if (ring_is_full()) {
        return HAL_EDGES_LOST;
    }
    taken &= ENTRY;
    if (taken == capture_head) {
        return HAL_NO_EDGE;
    }
    now = hal_now();
    at = (uint16_t)(now - clock_base);
    stamp = (uint16_t)(capture_ring[taken] | (uint16_t)(capture_ring[(uint8_t)(taken + 1U)] << 8));
    at = (uint16_t)(at - stamp + (at < stamp ? CLOCK_PERIOD : 0U));
    edge->time = (uint16_t)(now - at);
    edge->levels = wires_of(capture_ring[(uint8_t)(taken + 2U)], capture_ring[(uint8_t)(taken + 3U)]);
    capture_ring[(uint8_t)(taken + 3U)] = TAKEN;
    taken = (uint8_t)(taken + 4U);
    return HAL_EDGE;
}

static void start_clock(void)
{
    ICR1 = CLOCK_PERIOD - 1U;
    TCCR1A |= (uint8_t)(1U << WGM11);
    TCCR1B = (uint8_t)((1U << WGM13) | (1U << WGM12) | (1U << CS11)); /* fast PWM up to ICR1; 16 MHz / 8 */
    CLOCK_PERIODS = 0;
    TIMSK1 = (uint8_t)(1U << TOIE1);
}

/* Where each wire is. A shift by a number takes an AVR long, so edges find it in RAM. */
static void find_wires(void)
{
    uint8_t k;

    for (k = 0; k < WIRES; k++) {
        uint8_t pin = READ_BYTE(channel_pins[k]); /* neither port's: not wired, it never changes */
        uint8_t bit = bit_of(pin);

        bits_on_b[k] = pin < 8U ? bit : 0U;
        bits_on_c[k] = pin >= 8U && pin < 16U ? bit : 0U;
    }
}

static void start_capture(void)
{
    uint8_t k;

    find_wires();
    for (k = 0; k < WIRES; k++) {
        PCMSK0 |= bits_on_b[k];
        PCMSK1 |= bits_on_c[k];
    }
    hal_forget_edges();
    PCICR = (uint8_t)((1U << PCIE0) | (1U << PCIE1));
}

/* ---- Outputs ------------------------------------------------------------------------------------------------------ */

#if OUTPUTS
static const uint8_t kinds[OUTPUTS] IN_FLASH = OUTPUT_KINDS;
static const uint8_t pins[OUTPUTS] IN_FLASH = OUTPUT_PINS;
static const uint8_t direction_pins[OUTPUTS] IN_FLASH = OUTPUT_DIRECTION_PINS;
static const int16_t rests[OUTPUTS] IN_FLASH = OUTPUT_RESTS;
static const uint8_t brakes[OUTPUTS] IN_FLASH = OUTPUT_BRAKES;

#define REST_BEFORE_TURNING (2U * DUTY_PERIOD) /* within the first, count 0 is taken; in the second the pin is low */

static int16_t wanted[OUTPUTS];
static uint16_t rested[OUTPUTS]; /* since when an output that is to turn has count 0, in hal_now's time */
static uint8_t backward;         /* bit k: output k's direction is backward */
static uint8_t turning;          /* bit k: output k is to turn */

/* The stamping interrupt must not come between the halves of a register: see hal_now. 7 cycles without it. */
static void write_whole(volatile uint16_t *compare, uint16_t match)
{
    uint8_t flags = SREG;

    cli();
    *compare = match;
    SREG = flags;
}

static void set_pulse(uint8_t pin, int16_t us)
{
    uint16_t match = us < 1 ? 0U : (uint16_t)(2U * (uint16_t)us - 1U);

    if (pin == OC1A_PIN) {
        write_whole(&OCR1A, match);
    } else if (pin == OC1B_PIN) {
        write_whole(&OCR1B, match);
    } else {
        /* no pin of a pulse; it stays an input */
    }
}

/* High for `count` of 255, from the next period on. */
static void set_duty(uint8_t pin, uint8_t count)
{
    switch (pin) {
    case OC0A_PIN: OCR0A = count; break;
    case OC0B_PIN: OCR0B = count; break;
    case OC2A_PIN: OCR2A = count; break;
    case OC2B_PIN: OCR2B = count; break;
    default: break; /* no pin of a duty; it stays an input */
    }
}

/* Drive output k for `count` of 255 in its present direction. */
static void give(uint8_t k, uint8_t count)
{
    uint8_t driven = READ_BYTE(pins[k]);

    if (READ_BYTE(kinds[k]) == OUTPUT_DUTY) {
        set_duty(driven, count);
    } else {
        uint8_t other = READ_BYTE(direction_pins[k]);

        if (backward & (uint8_t)(1U << k)) {
            other = driven;
            driven = READ_BYTE(direction_pins[k]);
        }
        if (READ_BYTE(brakes[k])) {
            set_duty(driven, 255U);
            set_duty(other, (uint8_t)(255U - count));
        } else {
            set_duty(driven, count);
            set_duty(other, 0U);
        }
    }
}

static uint8_t size_of(int16_t wire)
{
    int16_t size = wire < 0 ? (int16_t)-wire : wire;

    return (uint8_t)(size > 255 ? 255 : size);
}

static void turn(uint8_t k)
{
    uint8_t bit = (uint8_t)(1U << k);

    backward ^= bit;
    turning &= (uint8_t)~bit;
    if (READ_BYTE(kinds[k]) == OUTPUT_DUTY) {
        write_pin(READ_BYTE(direction_pins[k]), (uint8_t)(backward & bit));
    }
    give(k, size_of(wanted[k]));
}

static void turn_what_rested(void)
{
    uint8_t k;

    if (!turning) {
        return;
    }
    for (k = 0; k < OUTPUTS; k++) {
        if ((turning & (uint8_t)(1U << k)) && (uint16_t)((uint16_t)hal_now() - rested[k]) >= REST_BEFORE_TURNING) {
            turn(k);
        }
    }
}

static void follow(uint8_t k, int16_t wire)
{
    uint8_t bit = (uint8_t)(1U << k);
    uint8_t back = (uint8_t)(wire < 0 ? bit : 0U);

    wanted[k] = wire;
    if (wire != 0 && back != (backward & bit)) {
        if (!(turning & bit)) {
            give(k, 0);
            rested[k] = (uint16_t)hal_now();
            turning |= bit;
        }
    } else {
        turning &= (uint8_t)~bit;
        give(k, size_of(wire));
    }
}

void hal_outputs(const int16_t *wires)
{
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        if (READ_BYTE(kinds[k]) == OUTPUT_PULSE) {
            set_pulse(READ_BYTE(pins[k]), wires[k]);
        } else {
            follow(k, wires[k]);
        }
    }
}

void hal_outputs_rest(void)
{
    uint8_t k;

    turning = 0;
    for (k = 0; k < OUTPUTS; k++) {
        if (READ_BYTE(kinds[k]) == OUTPUT_PULSE) {
            set_pulse(READ_BYTE(pins[k]), (int16_t)READ_WORD(rests[k]));
        } else {
            give(k, 0);
        }
    }
}

/* A compare unit owns its pin from now on; its level is low. Those of pins that are no output stay disconnected. */
static void connect(uint8_t pin)
{
    switch (pin) {
    case OC1A_PIN: TCCR1A |= (uint8_t)(1U << COM1A1); break;
    case OC1B_PIN: TCCR1A |= (uint8_t)(1U << COM1B1); break;
    case OC0A_PIN: TCCR0A |= (uint8_t)(1U << COM0A1); break;
    case OC0B_PIN: TCCR0A |= (uint8_t)(1U << COM0B1); break;
    case OC2A_PIN: TCCR2A |= (uint8_t)(1U << COM2A1); break;
    case OC2B_PIN: TCCR2A |= (uint8_t)(1U << COM2B1); break;
    default: return; /* no output of a timer: it stays an input */
    }
    make_output(pin);
}

/* The counts stand before the timers have modes, when they are taken at once, and the timers begin last: no edge but those of
 * rest. hal_init starts timer 1 after this. */
static void start_outputs(void)
{
    uint8_t k;

    hal_outputs_rest();
    TCCR0A = (uint8_t)(1U << WGM00);
    TCCR2A = (uint8_t)(1U << WGM20);
    for (k = 0; k < OUTPUTS; k++) {
        if (READ_BYTE(kinds[k]) == OUTPUT_BRIDGE) {
            connect(READ_BYTE(direction_pins[k]));
        } else if (READ_BYTE(direction_pins[k]) != PIN_NONE) {
            make_output(READ_BYTE(direction_pins[k]));
        } else {
            /* a servo pulse has none */
        }
        connect(READ_BYTE(pins[k]));
    }
    TCCR0B = DUTY_CLOCK;
    TCCR2B = DUTY_CLOCK;
}
#else
static void start_outputs(void)
{
}

static void turn_what_rested(void)
{
}

void hal_outputs(const int16_t *wires)
{
    (void)wires;
}

void hal_outputs_rest(void)
{
}
#endif

/* ---- Contacts, battery, serial port, watchdog --------------------------------------------------------------------- */

#if CONTACTS
static const uint8_t contact_pins[] IN_FLASH = CONTACT_INPUT_PINS;

static uint8_t level_of(uint8_t pin)
{
    return (uint8_t)(pin != PIN_NONE && (port_of(pin)[0] & bit_of(pin)));
}
#endif

static void start_contacts(void)
{
#if CONTACTS
    uint8_t k;

    for (k = 0; k < CONTACTS; k++) {
        if (READ_BYTE(contact_pins[k]) != PIN_NONE) {
            write_pin(READ_BYTE(contact_pins[k]), 1); /* pulled up: an open contact reads high */
        }
    }
#endif
}

uint8_t hal_contacts(void)
{
    uint8_t contacts = 0;
#if CONTACTS
    uint8_t k;

    for (k = 0; k < CONTACTS; k++) {
        contacts |= (uint8_t)(level_of(READ_BYTE(contact_pins[k])) << k);
    }
#endif
    return contacts;
}

static void start_battery(void)
{
#if BATTERY_FULL_SCALE_MV
    const uint8_t input = BATTERY_PIN < 16 ? BATTERY_PIN - 8 : BATTERY_PIN - 18;

    ADMUX = (uint8_t)((1U << REFS0) | input); /* against the supply */
    if (input < 6U) {
        DIDR0 = (uint8_t)(1U << input); /* the square chip's ADC6 and ADC7 have no digital half */
    }
    ADCSRA = (uint8_t)((1U << ADEN) | (1U << ADSC) | 7U); /* 125 kHz */
#endif
}

uint16_t hal_battery_mv(void)
{
#if BATTERY_FULL_SCALE_MV
    static uint16_t millivolts = 0xFFFFU;

    if (!(ADCSRA & (1U << ADSC))) {
        millivolts = (uint16_t)(((uint32_t)ADC * BATTERY_FULL_SCALE_MV + 512UL) >> 10);
        ADCSRA |= (uint8_t)(1U << ADSC);
    }
    return millivolts;
#else
    return 0xFFFFU;
#endif
}

/* As after a reset: every pin floats, nothing counts. A boot loader leaves this and that behind, and a program that went astray
 * to address 0 has not been reset at all. */
static void let_go(void)
{
    uint8_t pin;

    cli();
    PCICR = 0;
    PCMSK0 = 0;
    PCMSK1 = 0;
    TIMSK1 = 0;
    for (pin = 0; pin < 24U; pin = (uint8_t)(pin + 8U)) {
        port_of(pin)[1] = 0;
        port_of(pin)[2] = 0;
    }
    TCCR0A = 0;
    TCCR0B = 0;
    TCCR1A = 0;
    TCCR1B = 0;
    TCCR2A = 0;
    TCCR2B = 0;
    TCNT0 = 0;
    TCNT1 = 0;
    TCNT2 = 0;
    TIFR1 = (uint8_t)(1U << TOV1);
}

void hal_init(void)
{
    let_go();
    started = MCUSR & (HAL_STARTED_POWER | HAL_STARTED_PIN | HAL_STARTED_LOW_SUPPLY | HAL_STARTED_WATCHDOG);
    MCUSR = 0;
    wdt_enable(WDTO_60MS); /* 64 ms, give or take a tenth: WATCHDOG_MS */
    start_outputs();
    start_clock();
    start_contacts();
    UBRR0 = BAUD_DIVISOR;
    UCSR0A = (uint8_t)(1U << U2X0);
    UCSR0C = (uint8_t)((1U << UCSZ01) | (1U << UCSZ00));
    UCSR0B = (uint8_t)(1U << TXEN0);
    start_battery();
    if (TICK_PIN != PIN_NONE) {
        make_output(TICK_PIN);
    }
    start_capture();
    sei();
}

uint8_t hal_started(void)
{
    return started;
}

const char *hal_name(void)
{
    return "ATmega328P";
}

uint8_t hal_send(uint8_t byte)
{
    if (!(UCSR0A & (1U << UDRE0))) {
        return 0;
    }
    UDR0 = byte;
    return 1;
}

/* It does not sleep: waking takes cycles that the stamps would show. */
void hal_sleep(uint32_t until)
{
    (void)until;
    turn_what_rested();
}

void hal_tick(uint8_t works)
{
    if (TICK_PIN != PIN_NONE) {
        write_pin(TICK_PIN, works);
    }
}

/* A bit that flips in where the wires are is right again with the next tick. */
void hal_well(void)
{
    wdt_reset();
    find_wires();
}
