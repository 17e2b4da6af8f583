/* RP2040 with a 12 MHz crystal, at 128 MHz: 64 cycles are half a microsecond.
 *
 * Only the edges of channels are urgent: their interrupt stamps them and goes before every other. PWM units make the
 * outputs, so nothing that the program does moves a pulse. All of it runs in RAM (boot_rp2040.S).
 */
#include "config.h"
#include "hal.h"
#include "program_rp2040.h"
#include "rp2040.h"

/* The bare pulse reader's pins; a wiring.h brings its own. */
#ifndef CHANNEL_PINS
#define CHANNEL_PINS { 16, 17, 18, 19, 20, 21, 22, 26 }
#endif
#ifndef CONTACT_INPUT_PINS
#define CONTACT_INPUT_PINS { 2, 3, 4, 5, PIN_NONE, PIN_NONE, PIN_NONE, PIN_NONE }
#endif
#ifndef BATTERY_PIN
#define BATTERY_PIN 27
#endif
#ifndef SERIAL_PIN
#define SERIAL_PIN 28 /* 0, 12, 16 or 28: where UART0 sends */
#endif

#define HZ 128000000UL
#define HALF_US_SHIFT 6
#define CLOCK_BITS 0xFFFFFFUL
#define HALF_US_BITS (CLOCK_BITS >> HALF_US_SHIFT)

#define SERVO_DIVIDER 64UL /* half microseconds */
#define SERVO_TOP 39999UL  /* 20 ms of them */
#define LEAST_DUTY_HZ 20000UL
#define BAUD_DIVISOR_64 ((HZ * 4UL + BAUD / 2UL) / BAUD) /* 64ths of HZ / (16 BAUD) */

#define XOSC_STARTUP_4_MS 196UL /* as after reset: some crystals take longer than one */
#define XOSC_MHZ 12UL
#define ALL_EDGES 0xCCCCCCCCUL
#define KEPT_MARK 0x5EED0B0AUL
#define SOON 60L /* half microseconds: how often a turning output is looked at */

#if PULSE_SUM
#define WIRES 1U
#else
#define WIRES ((uint8_t)CHANNELS)
#endif

void io_bank0_interrupt(void);
void timer_interrupt(void);
void uart0_interrupt(void);

/* Edges wait here for the main loop; both numbers wrap by themselves. A full ring drops the newest and says so. */
static struct {
    uint32_t pins;
    uint16_t time;
} ring[256];
static volatile uint8_t head, taken, lost;

static const uint8_t channel_pins[] = CHANNEL_PINS;
static const uint8_t contact_pins[] = CONTACT_INPUT_PINS;
static uint8_t started;
static uint8_t sending; /* a byte went since the last sleep, so there may be more */
__attribute__((section(".kept"))) static uint32_t kept[2];

#if OUTPUTS
static const uint8_t output_kinds[] = OUTPUT_KINDS;
static const uint8_t output_pins[] = OUTPUT_PINS;
static const uint8_t second_pins[] = OUTPUT_DIRECTION_PINS;
static const uint16_t output_tops[] = OUTPUT_TOPS;
static const int16_t output_rests[] = OUTPUT_RESTS;
static const uint8_t output_brakes[] = OUTPUT_BRAKES;

static uint32_t compare[8];        /* by slice: what stands in its CC */
static uint8_t backward[OUTPUTS];
static uint8_t turning[OUTPUTS];   /* periods yet to rest before the direction changes, 0: it does not change */
static uint8_t turns;              /* whether one does */
static int16_t wanted[OUTPUTS];    /* where turning: what comes then */

static void set_compare(uint8_t pin, uint16_t count)
{
    uint32_t shift = (pin & 1U) * 16U;
    uint32_t slice = PWM_SLICE(pin);

    compare[slice] = (compare[slice] & ~(0xFFFFUL << shift)) | ((uint32_t)count << shift);
}

/* What a wire carries, in the direction that it has. */
static void show(uint8_t k, int16_t wire)
{
    uint16_t count = (uint16_t)(wire < 0 ? -wire : wire);
    uint8_t driven = output_pins[k];
    uint8_t other = second_pins[k];

    if (output_kinds[k] == OUTPUT_PULSE) {
        set_compare(driven, (uint16_t)(2U * count));
    } else if (output_kinds[k] == OUTPUT_DUTY) {
        set_compare(driven, count);
    } else if (output_kinds[k] == OUTPUT_BRIDGE) {
        if (wire < 0) {
            driven = second_pins[k];
            other = output_pins[k];
        }
        set_compare(driven, output_brakes[k] ? output_tops[k] : count);
        set_compare(other, output_brakes[k] ? (uint16_t)(output_tops[k] - count) : 0U);
    } else { /* a bit has flipped: nothing drives until program_check finds it */
        set_compare(driven, 0);
        set_compare(other, 0);
    }
}

/* Both outputs of a slice at once. They count from its next period on. */
static void write_compares(void)
{
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        PWM_CC(PWM_SLICE(output_pins[k])) = compare[PWM_SLICE(output_pins[k])];
    }
}

void hal_outputs(const int16_t *wires)
{
    uint32_t begun = 0;
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        if (output_kinds[k] == OUTPUT_PULSE || wires[k] == 0 || (wires[k] < 0) == backward[k]) {
            turning[k] = 0;
            show(k, wires[k]);
        } else {
            if (!turning[k]) {
                turning[k] = 2; /* the one that is over when the rest begins, and a whole one at rest */
                begun |= 1UL << PWM_SLICE(output_pins[k]);
            }
            turns = 1;
            wanted[k] = wires[k];
            show(k, 0);
        }
    }
    write_compares();
    PWM_INTR = begun; /* what wrapped before the rest was written does not count */
}

static void turn_direction(uint8_t k)
{
    backward[k] = !backward[k];
    if (output_kinds[k] == OUTPUT_DUTY) {
        uint32_t bit = 1UL << second_pins[k];

        if (backward[k]) {
            SIO_GPIO_OUT_SET = bit;
        } else {
            SIO_GPIO_OUT_CLR = bit;
        }
    }
    show(k, wanted[k]);
}

static uint8_t rests_on_its_pin(uint8_t k)
{
    return output_kinds[k] != OUTPUT_DUTY || !(SIO_GPIO_IN & (1UL << output_pins[k]));
}

/* Returns whether some output is yet to turn. */
static uint8_t turn(void)
{
    uint32_t wrapped;
    uint8_t k, turned = 0;

    if (!turns) {
        return 0;
    }
    turns = 0;
    wrapped = PWM_INTR;
    PWM_INTR = wrapped;
    for (k = 0; k < OUTPUTS; k++) {
        if (turning[k] && (wrapped & (1UL << PWM_SLICE(output_pins[k]))) && rests_on_its_pin(k)) {
            turning[k]--;
            if (!turning[k]) {
                turn_direction(k);
                turned = 1;
            }
        }
        turns |= turning[k];
    }
    if (turned) {
        write_compares();
    }
    return turns;
}

void hal_outputs_rest(void)
{
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        turning[k] = 0;
        show(k, output_rests[k]);
    }
    write_compares();
}

static void start_slice(uint8_t k)
{
    uint32_t slice = PWM_SLICE(output_pins[k]);
    uint32_t divider = SERVO_DIVIDER;

    PWM_TOP(slice) = SERVO_TOP;
    if (output_kinds[k] != OUTPUT_PULSE) {
        divider = HZ / LEAST_DUTY_HZ / output_tops[k];
        divider = divider < 1U ? 1U : divider > 255U ? 255U : divider;
        PWM_TOP(slice) = output_tops[k] - 1UL; /* so that a count of the top is no edge at all */
    }
    PWM_DIV(slice) = divider << 4;
    PWM_CC(slice) = 0;
    PWM_CTR(slice) = 0;
}

static void give_pin_to_pwm(uint8_t pin)
{
    PADS_GPIO(pin) = PADS_INPUT_ENABLE | PADS_4_MILLIAMPERES | PADS_PULL_DOWN | PADS_SCHMITT;
    IO_CTRL(pin) = IO_FUNCTION_PWM;
}

/* Slices run at 0 before they get a pin, and get their rest while they run: so the first pulse is a whole one. */
static void start_outputs(void)
{
    uint8_t k;

    for (k = 0; k < OUTPUTS; k++) {
        start_slice(k);
    }
    for (k = 0; k < OUTPUTS; k++) {
        PWM_CSR(PWM_SLICE(output_pins[k])) = 1;
    }
    for (k = 0; k < OUTPUTS; k++) {
        if (output_kinds[k] == OUTPUT_DUTY) {
            SIO_GPIO_OUT_CLR = 1UL << second_pins[k];
            SIO_GPIO_OE_SET = 1UL << second_pins[k];
            IO_CTRL(second_pins[k]) = IO_FUNCTION_SIO;
        } else if (output_kinds[k] == OUTPUT_BRIDGE) {
            give_pin_to_pwm(second_pins[k]);
        }
        give_pin_to_pwm(output_pins[k]);
    }
    hal_outputs_rest();
}
#else
void hal_outputs(const int16_t *wires)
{
    (void)wires;
}

void hal_outputs_rest(void)
{
}

static uint8_t turn(void)
{
    return 0;
}

static void start_outputs(void)
{
}
#endif

/* The chip does not tell a brown-out from a power-up. RAM does: what the last run left in it survives a dip of the
 * supply, not a pause. */
static void ask_why_it_started(void)
{
    uint32_t reset = CHIP_RESET;

    if (WATCHDOG_REASON) {
        started = HAL_STARTED_WATCHDOG;
    } else if (reset & CHIP_RESET_HAD_RUN) {
        started = HAL_STARTED_PIN;
    } else if (reset & CHIP_RESET_HAD_POR) {
        started = HAL_STARTED_POWER;
        if (kept[0] == KEPT_MARK && kept[1] == ~KEPT_MARK) {
            started = HAL_STARTED_POWER | HAL_STARTED_LOW_SUPPLY;
        }
    }
    kept[0] = KEPT_MARK;
    kept[1] = ~KEPT_MARK;
}

static void release(uint32_t blocks)
{
    SET_BITS(RESETS_RESET) = blocks;
    CLEAR_BITS(RESETS_RESET) = blocks;
    while ((RESETS_DONE & blocks) != blocks) {
    }
}

/* 12 MHz times 64, by two dividers (data sheet 2.18.2). */
static void start_pll(uint32_t pll, uint32_t first, uint32_t second)
{
    PLL_CS(pll) = 1;
    PLL_FBDIV(pll) = 64;
    CLEAR_BITS(PLL_PWR(pll)) = PLL_PWR_DOWN_AND_VCO;
    while (!(PLL_CS(pll) & PLL_CS_LOCK)) {
    }
    PLL_PRIM(pll) = first << 16 | second << 12;
    CLEAR_BITS(PLL_PWR(pll)) = PLL_PWR_POST_DIVIDERS;
}

static void start_clocks(void)
{
    REGISTER(XOSC_CTRL) = XOSC_CTRL_1_TO_15_MHZ;
    XOSC_STARTUP = XOSC_STARTUP_4_MS;
    SET_BITS(XOSC_CTRL) = XOSC_CTRL_ENABLE;
    while (!(XOSC_STATUS & XOSC_STATUS_STABLE)) {
    }
    CLK_REF_CTRL = CLK_REF_FROM_XOSC;
    while (!(CLK_REF_SELECTED & (1UL << CLK_REF_FROM_XOSC))) {
    }
    CLK_SYS_CTRL = CLK_SYS_FROM_REF; /* off the PLL while that is set */
    while (!(CLK_SYS_SELECTED & (1UL << CLK_SYS_FROM_REF))) {
    }
    release(RESETS_PLL_SYS | RESETS_PLL_USB);
    start_pll(PLL_SYS, 6, 1); /* 128 MHz */
    start_pll(PLL_USB, 4, 4); /* 48 MHz, which the ADC wants */
    CLK_SYS_CTRL = CLK_SYS_FROM_PLL;
    while (!(CLK_SYS_SELECTED & (1UL << CLK_SYS_FROM_PLL))) {
    }
    CLK_PERI_CTRL = CLK_ENABLE;
    CLK_ADC_CTRL = CLK_ENABLE;
    WATCHDOG_TICK = WATCHDOG_TICK_ENABLE | XOSC_MHZ;
    SYST_RVR = CLOCK_BITS;
    SYST_CVR = 0;
    SYST_CSR = SYST_CSR_ENABLE_ON_CORE_CLOCK;
}

static void start_watchdog(void)
{
    PSM_WDSEL = PSM_ALL_BUT_OSCILLATORS;
    hal_well();
    WATCHDOG_CTRL = WATCHDOG_CTRL_ENABLE;
}

static void open_inputs(const uint8_t *pins, uint8_t number, uint32_t pull)
{
    uint8_t k;

    for (k = 0; k < number; k++) {
        if (pins[k] != PIN_NONE) {
            PADS_GPIO(pins[k]) = PADS_INPUT_ENABLE | PADS_SCHMITT | pull;
        }
    }
}

static void start_inputs(void)
{
    open_inputs(channel_pins, WIRES, PADS_PULL_DOWN);
    open_inputs(contact_pins, CONTACTS, PADS_PULL_UP);
#if TICK_PIN != PIN_NONE
    SIO_GPIO_OUT_CLR = 1UL << TICK_PIN;
    SIO_GPIO_OE_SET = 1UL << TICK_PIN;
    IO_CTRL(TICK_PIN) = IO_FUNCTION_SIO;
#endif
#if BATTERY_FULL_SCALE_MV
    PADS_GPIO(BATTERY_PIN) = PADS_OUTPUT_DISABLE;
    ADC_CS = ADC_CS_ENABLE;
    while (!(ADC_CS & ADC_CS_READY)) {
    }
    ADC_CS = ADC_CS_ENABLE | ADC_CS_INPUT(BATTERY_PIN - ADC_FIRST_PIN) | ADC_CS_START_ONE;
#endif
}

static void start_serial(void)
{
    UART0_IBRD = BAUD_DIVISOR_64 >> 6;
    UART0_FBRD = BAUD_DIVISOR_64 & 63U;
    UART0_LCR_H = UART_LCR_H_8_BITS_FIFO;
    UART0_CR = UART_CR_ENABLE_SEND;
    IO_CTRL(SERIAL_PIN) = IO_FUNCTION_UART;
}

/* Edges go before everything else. */
static void start_interrupts(void)
{
    uint8_t k;

    for (k = 0; k < 4U; k++) {
        IO_INTR(k) = ALL_EDGES;
    }
    for (k = 0; k < WIRES; k++) {
        if (channel_pins[k] != PIN_NONE) {
            SET_BITS(IO_PROC0_INTE(channel_pins[k] / 8UL)) = IO_BOTH_EDGES << (4U * (channel_pins[k] % 8U));
        }
    }
    TIMER_INTE = 1;
    NVIC_IPR(IRQ_TIMER_0) = NVIC_PRIORITY(IRQ_TIMER_0, 3);
    NVIC_IPR(IRQ_UART0) = NVIC_PRIORITY(IRQ_UART0, 3);
    NVIC_ISER = 1UL << IRQ_IO_BANK0 | 1UL << IRQ_TIMER_0 | 1UL << IRQ_UART0;
}

void hal_init(void)
{
    SET_BITS(RESETS_RESET) = RESETS_IO_BANK0 | RESETS_PADS_BANK0 | RESETS_PWM; /* every pin lets go, whatever came before */
    ask_why_it_started();
    VREG_BOD = VREG_BOD_ENABLE | VREG_BOD_0_946_VOLTS; /* of the core's 1.1 */
    start_clocks();
    program_start();
    start_watchdog();
    release(RESETS_ADC | RESETS_IO_BANK0 | RESETS_PADS_BANK0 | RESETS_PWM | RESETS_TIMER | RESETS_UART0);
    start_outputs();
    start_inputs();
    start_serial();
    start_interrupts();
}

uint8_t hal_started(void)
{
    return started;
}

const char *hal_name(void)
{
    return "RP2040";
}

uint32_t hal_now(void)
{
    static uint32_t now;

    now += (((CLOCK_BITS - SYST_CVR) >> HALF_US_SHIFT) - now) & HALF_US_BITS;
    return now;
}

/* An edge between reading the clock and the pins gets this stamp and, where it comes after the acknowledging, another call
 * that finds nothing new. None is lost. */
void io_bank0_interrupt(void)
{
    uint16_t time = (uint16_t)((CLOCK_BITS - SYST_CVR) >> HALF_US_SHIFT);
    uint8_t next = (uint8_t)(head + 1U);

    IO_INTR(0) = ALL_EDGES;
    IO_INTR(1) = ALL_EDGES;
    IO_INTR(2) = ALL_EDGES;
    IO_INTR(3) = ALL_EDGES;
    if (next != taken) {
        ring[head].pins = SIO_GPIO_IN;
        ring[head].time = time;
        head = next;
    } else {
        lost = 1;
    }
}

static uint16_t levels_of(uint32_t pins, const uint8_t *which, uint8_t number)
{
    uint16_t levels = 0;
    uint8_t k;

    for (k = 0; k < number; k++) {
        if (which[k] != PIN_NONE) {
            levels |= (uint16_t)(((pins >> which[k]) & 1U) << k);
        }
    }
    return levels;
}

uint16_t hal_levels(void)
{
    return levels_of(SIO_GPIO_IN, channel_pins, WIRES);
}

uint8_t hal_next_edge(hal_edge_t *edge)
{
    if (lost) {
        return HAL_EDGES_LOST;
    }
    if (taken == head) {
        return HAL_NO_EDGE;
    }
    edge->time = ring[taken].time;
    edge->levels = levels_of(ring[taken].pins, channel_pins, WIRES);
    taken = (uint8_t)(taken + 1U);
    return HAL_EDGE;
}

void hal_forget_edges(void)
{
    lost = 0;
    taken = head;
}

uint8_t hal_contacts(void)
{
    return (uint8_t)levels_of(SIO_GPIO_IN, contact_pins, CONTACTS);
}

uint16_t hal_battery_mv(void)
{
#if BATTERY_FULL_SCALE_MV
    static uint16_t millivolts = 0xFFFFU;

    if (ADC_CS & ADC_CS_READY) {
        millivolts = (uint16_t)((ADC_RESULT * BATTERY_FULL_SCALE_MV + 2048UL) >> 12);
        ADC_CS = ADC_CS_ENABLE | ADC_CS_INPUT(BATTERY_PIN - ADC_FIRST_PIN) | ADC_CS_START_ONE;
    }
    return millivolts;
#else
    return 0xFFFFU;
#endif
}

uint8_t hal_send(uint8_t byte)
{
    if (UART0_FR & UART_FR_SEND_FULL) {
        UART0_IMSC = UART_INTERRUPT_SEND; /* wakes it when half of what waits is sent */
        return 0;
    }
    UART0_DR = byte;
    sending = 1;
    return 1;
}

void uart0_interrupt(void)
{
    UART0_IMSC = 0;
}

void timer_interrupt(void)
{
    TIMER_INTR = 1;
}

/* The core notes every interrupt as an event, so one that comes just before it falls asleep wakes it as well. */
void hal_sleep(uint32_t until)
{
    int32_t left = (int32_t)(until - hal_now());

    if (turn() && left > SOON) {
        left = SOON;
    }
    if (!sending && left >= 4) {
        TIMER_ALARM0 = TIMER_TIMERAWL + ((uint32_t)left >> 1);
        __asm volatile("wfe" ::: "memory");
    }
    sending = 0;
}

void hal_tick(uint8_t works)
{
#if TICK_PIN != PIN_NONE
    if (works) {
        SIO_GPIO_OUT_SET = 1UL << TICK_PIN;
    } else {
        SIO_GPIO_OUT_CLR = 1UL << TICK_PIN;
    }
#else
    (void)works;
#endif
}

void hal_well(void)
{
    program_check();
    WATCHDOG_LOAD = 2UL * 1000UL * WATCHDOG_MS;
}
