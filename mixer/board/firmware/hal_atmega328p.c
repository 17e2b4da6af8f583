/* ATmega328P at 16 MHz. Wires 0 to 3 are PB0 to PB3, 4 to 7 are PC0 to PC3, contacts PD4 to PD7, battery ADC5.
 *
 * Nothing but the capture interrupt (capture_atmega328p.S) ever interrupts: sending, measuring and timekeeping are
 * polled, because each further interrupt would smear the stamps by its own length.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>

#include "config.h"
#include "hal.h"

#if F_CPU != 16000000UL
#error "written for 16 MHz: timer 1 divides by 8 to half microseconds"
#endif

#define LOW_WIRES 0x0FU
#define WIRES ((uint8_t)((1U << CHANNELS) - 1U))
#define CONTACT_PINS ((uint8_t)(((1U << CONTACTS) - 1U) << 4))
#define BATTERY_INPUT 5U
#define BAUD_DIVISOR ((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1UL)

extern volatile uint8_t capture_ring[256];
extern volatile uint8_t capture_head;

static uint8_t started; /* MCUSR as it was: its bits 0 to 3 are the HAL_STARTED_ flags in their order */
static uint8_t taken; /* low address of the first ring entry not yet taken */

static void start_battery(void)
{
#if BATTERY_FULL_SCALE_MV
    ADMUX = (uint8_t)((1U << REFS0) | BATTERY_INPUT); /* against the supply */
    DIDR0 = (uint8_t)(1U << BATTERY_INPUT);
    ADCSRA = (uint8_t)((1U << ADEN) | (1U << ADSC) | 7U); /* 125 kHz */
#endif
}

void hal_init(void)
{
    started = MCUSR & (HAL_STARTED_POWER | HAL_STARTED_PIN | HAL_STARTED_LOW_SUPPLY | HAL_STARTED_WATCHDOG);
    MCUSR = 0;
    wdt_enable(WDTO_250MS);
    PORTD = CONTACT_PINS; /* pulled up: an open contact reads high */
    TCCR1A = 0;
    TCCR1B = (uint8_t)(1U << CS11); /* 16 MHz / 8 */
    UBRR0 = BAUD_DIVISOR;
    UCSR0A = (uint8_t)(1U << U2X0);
    UCSR0C = (uint8_t)((1U << UCSZ01) | (1U << UCSZ00));
    UCSR0B = (uint8_t)(1U << TXEN0);
    start_battery();
#if PULSE_SUM
    PCMSK0 = 1;
    PCICR = (uint8_t)(1U << PCIE0);
#else
    PCMSK0 = (uint8_t)(WIRES & LOW_WIRES);
    PCMSK1 = (uint8_t)(WIRES >> 4);
    PCICR = (uint8_t)((1U << PCIE0) | (1U << PCIE1));
#endif
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

/* The interrupt reads the same counter through the same high-byte latch. Holding it off while reading would smear
 * its stamps; so read again if it has run meanwhile. */
uint16_t hal_now(void)
{
    uint16_t now;
    uint8_t head;

    do {
        head = capture_head;
        now = TCNT1;
    } while (head != capture_head);
    return now;
}

static uint16_t wires_of(uint8_t port_b, uint8_t port_c)
{
    return (uint16_t)((port_b & LOW_WIRES) | (uint8_t)((uint8_t)(port_c & LOW_WIRES) << 4));
}

uint16_t hal_levels(void)
{
    return wires_of(PINB, PINC);
}

uint8_t hal_next_edge(hal_edge_t *edge)
{
    if (taken == capture_head) {
        return 0;
    }
    edge->time = (uint16_t)(capture_ring[taken] | (uint16_t)(capture_ring[(uint8_t)(taken + 1U)] << 8));
    edge->levels = wires_of(capture_ring[(uint8_t)(taken + 2U)], capture_ring[(uint8_t)(taken + 3U)]);
    taken = (uint8_t)(taken + 4U);
    return 1;
}

uint8_t hal_contacts(void)
{
    return (uint8_t)((PIND & CONTACT_PINS) >> 4);
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

uint8_t hal_send(uint8_t byte)
{
    if (!(UCSR0A & (1U << UDRE0))) {
        return 0;
    }
    UDR0 = byte;
    return 1;
}

void hal_well(void)
{
    wdt_reset();
}
