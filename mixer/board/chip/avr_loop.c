/* The run loop of a simulated ATmega328P, beside the library libsimavr 1.6, which is loaded by whoever calls this.
 *
 * Nothing here waits: every edge from outside, every serial byte and every stop is a timer of the simulator. What
 * the library leaves out is put right, each where it says so:
 *
 *   interrupt entry     takes 4 cycles (data sheet 6.7.1); the library takes none
 *   serial port         start, data, parity and stop bits at the rate of UBRR; out, a data register before the shift
 *                       register, in, two behind it (data sheet 19.6, 19.7); the library's bytes are a bit too long
 *   pins from outside   keep their level when the program turns on pull-ups, and over a reset
 *   compare outputs     own their pin: what is written to PORT shows when they let go (data sheet 13.3); in PWM modes
 *                       they are reckoned by avr_pwm.c, which stands before this text when it is compiled
 *   16-bit registers    of timer 1 are read and written through one byte that all of them share (data sheet 16.3)
 *
 * It does not have: the synchroniser of the pins (1 to 2 cycles, for every edge alike), interrupts of the serial port
 * (a program that uses them is refused), parity of what comes in.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

typedef uint64_t (*timer_call_t)(void *avr, uint64_t when, void *param);
typedef void (*notify_call_t)(void *irq, uint32_t value, void *param);
typedef void (*write_call_t)(void *avr, uint16_t address, uint8_t value, void *param);
typedef uint8_t (*read_call_t)(void *avr, uint16_t address, void *param);

/* The library's functions, found by the caller. */
typedef struct {
    int (*run)(void *avr);
    void (*reset)(void *avr);
    void *(*io_irq)(void *avr, uint32_t what, int index);
    void *(*interrupt_irq)(void *avr, uint8_t vector);
    void (*raise)(void *irq, uint32_t value);
    void (*notify)(void *irq, notify_call_t call, void *param);
    void (*timer)(void *avr, uint64_t wait, timer_call_t call, void *param);
    int (*ioctl)(void *avr, uint32_t what, void *param);
} library_t;

typedef struct {
    uint64_t cycle;
    int32_t pin; /* 8 * port + bit, ports B, C, D; for a serial byte: the byte; for a reset: its flags */
    int32_t level;
} event_t;

typedef struct {
    uint64_t cycle;
    int32_t pin;
    uint32_t high;
    uint32_t period;
    uint32_t repeats;
} train_t;

typedef struct {
    train_t *items;
    int64_t count;
    int64_t room;
} trains_t;

typedef struct {
    event_t *items;
    int64_t count;
    int64_t room;
} list_t;

typedef struct {
    write_call_t call;
    void *param;
} writer_t;

enum { PORTS = 3, PINS = 24, UNDRIVEN = -1 };
enum { TIMERS = 3, TIMER_REGISTERS = 11 };
enum { FINE = 0, ENDED = 1, CRASHED = 2, SERIAL_INTERRUPT = 3, NO_MEMORY = 4, TIMER_MODE = 5 };

/* One chip: what the caller reads stands first. */
typedef struct {
    list_t edges;
    list_t sent;
    list_t resets;
    trains_t trains;
    list_t driven;   /* edges from outside still to come */
    list_t received; /* serial bytes from outside still to come */
    uint64_t base;   /* the simulator's clock may go back to 0 at a reset; this much is before it */
    int32_t failed;
    int64_t next_driven;
    int64_t next_received;
    const library_t *library;
    void *avr;
    void *pins[PINS];
    void (*core_reset)(void *avr);
    int8_t outside[PINS];
    int8_t shown[PINS];
    uint8_t port_written[PORTS];
    uint16_t analog_mv[8];
    void *analog[8];
    uint64_t until;
    uint64_t held_until;
    uint64_t reset_at;
    uint8_t stopped;
    uint8_t was_reset;
    uint8_t writing; /* the program writes a register of pins; what the library says of them meanwhile is PORT's */
    uint8_t reason; /* flags of a reset from outside; 0: it came from within */
    writer_t port_writers[PORTS];
    writer_t direction_writers[PORTS];
    writer_t timer_writers[TIMERS][TIMER_REGISTERS];
    writer_t flag_writers[TIMERS];
    read_call_t flag_readers[TIMERS];
    void *flag_params[TIMERS];
    read_call_t count_reader;
    void *count_param;
    uint8_t shared; /* the byte behind the upper halves of timer 1's registers */
    pwm_timer_t timers[TIMERS];
    sink_t sink;
    uint8_t shift_busy;
    uint8_t shifted;
    uint8_t holding;
    uint8_t held_byte;
    uint8_t arrived[2];
    uint8_t arrivals;
    uint8_t overrun;
    uint8_t mended[2]; /* flash under the endless loop of a hang */
    uint32_t hang_at;
    uint8_t hangs;
    uint64_t resumes; /* when a halt ends; 0: never */
} chip_t;

/* Offsets into the library's avr_t 1.6 (offsetof on its header); the caller checks them on known values. */
enum { AT_CYCLE = 80, AT_LIMIT = 96, AT_RESET = 128, AT_SLEEP = 168, AT_PC = 204, AT_IO = 216 };
enum { AT_FLASH = 11712, AT_DATA = 11720, AT_TIMERS = 12256 };
enum { IO_SIZE = 40, IO_READ = 8, IO_WRITE = 24, SLOTS = 64, SLOT_SIZE = 32, SLOT_WHEN = 8 };
enum { AT_FREE = AT_TIMERS + SLOTS * SLOT_SIZE, AT_ACTIVE = AT_FREE + 8 };

/* Addresses of the ATmega328P's registers in its data space (data sheet 30), and bits of them. */
enum { PIN_B = 0x23, DDR_B = 0x24, PORT_B = 0x25, PORT_STEP = 3, MCUSR = 0x54 };
enum { TIFR0 = 0x35, TIMSK0 = 0x6E, TOV = 1, TCCR0A = 0x44, TCCR1A = 0x80, TCCR2A = 0xB0, ICR1L = 0x86 };
enum { UCSR0A = 0xC0, UCSR0B = 0xC1, UCSR0C = 0xC2, UBRR0L = 0xC4, UBRR0H = 0xC5, UDR0 = 0xC6 };
enum { RXC0 = 0x80, TXC0 = 0x40, UDRE0 = 0x20, DOR0 = 0x08, U2X0 = 0x02 };
enum { RXCIE0 = 0x80, TXCIE0 = 0x40, UDRIE0 = 0x20, RXEN0 = 0x10, TXEN0 = 0x08 };

enum { IOPORT = 0x696F6700, IOPORT_EXTERNAL = 0x696F7000 };
enum { ADC_IN = 0x61646320, ANY_INTERRUPT = 0xFF, RUNNING = 1, DONE = 6 };
enum { LONGEST_RUN = 1 << 20, INTERRUPT_ENTRY = 4 };

static void *at(chip_t *chip, uint32_t offset)
{
    return (uint8_t *)chip->avr + offset;
}

static uint8_t *data_of(chip_t *chip)
{
    return *(uint8_t **)at(chip, AT_DATA);
}

static uint64_t *clock_of(chip_t *chip)
{
    return (uint64_t *)at(chip, AT_CYCLE);
}

static uint64_t now_of(chip_t *chip)
{
    return chip->base + *clock_of(chip);
}

static void add(chip_t *chip, list_t *list, uint64_t cycle, int32_t pin, int32_t level)
{
    if (list->count == list->room) {
        int64_t room = list->room ? 2 * list->room : 1024;
        event_t *items = realloc(list->items, (size_t)room * sizeof(event_t));
        if (!items) {
            chip->failed = NO_MEMORY;
            return;
        }
        list->items = items;
        list->room = room;
    }
    list->items[list->count].cycle = cycle;
    list->items[list->count].pin = pin;
    list->items[list->count].level = level;
    list->count++;
}

/* When what happens now is due. The library calls a timer after the instruction in which it fell due; its slot is then in
 * neither of its two lists, and still says when. Outside a timer it is the instruction's own cycle. */
static uint64_t due_of(chip_t *chip)
{
    uint8_t *slots = at(chip, AT_TIMERS);
    uint64_t listed = 0;
    uint32_t list;

    for (list = AT_FREE; list <= AT_ACTIVE; list += AT_ACTIVE - AT_FREE) {
        uint8_t *slot = *(uint8_t **)at(chip, list);
        while (slot) {
            listed |= 1ULL << ((size_t)(slot - slots) / SLOT_SIZE);
            slot = *(uint8_t **)slot;
        }
    }
    if (~listed) {
        uint32_t k = 0;
        while (listed >> k & 1U) {
            k++;
        }
        return chip->base + *(uint64_t *)(slots + k * SLOT_SIZE + SLOT_WHEN);
    }
    return now_of(chip);
}

static void tell_edge(void *to, uint64_t cycle, int32_t pin, int8_t level)
{
    chip_t *chip = to;

    chip->shown[pin] = level;
    add(chip, &chip->edges, cycle, pin, level);
}

static void tell_train(void *to, uint64_t cycle, int32_t pin, uint32_t high, uint32_t period, uint32_t repeats)
{
    chip_t *chip = to;
    trains_t *trains = &chip->trains;

    if (trains->count == trains->room) {
        int64_t room = trains->room ? 2 * trains->room : 256;
        train_t *items = realloc(trains->items, (size_t)room * sizeof(train_t));
        if (!items) {
            chip->failed = NO_MEMORY;
            return;
        }
        trains->items = items;
        trains->room = room;
    }
    trains->items[trains->count].cycle = cycle;
    trains->items[trains->count].pin = pin;
    trains->items[trains->count].high = high;
    trains->items[trains->count].period = period;
    trains->items[trains->count].repeats = repeats;
    trains->count++;
}

static void show(chip_t *chip, int32_t pin, int8_t level)
{
    if (chip->shown[pin] != level) {
        chip->shown[pin] = level;
        add(chip, &chip->edges, due_of(chip), pin, level);
    }
}

/* Each timer's first register; TCCRnB, TCNTn, OCRnA and OCRnB as offsets from it, 16-bit ones by their low byte. */
static const struct {
    uint16_t first;
    uint8_t count, compare_a, compare_b;
} timer_places[TIMERS] = {{TCCR0A, 2, 3, 4}, {TCCR1A, 4, 8, 10}, {TCCR2A, 2, 3, 4}};
static const int32_t timer_pins[TIMERS][2] = {{22, 21}, {1, 2}, {3, 19}}; /* PD6 PD5, PB1 PB2, PB3 PD3 */
static const uint16_t dividers[2][8] = {{0, 1, 8, 64, 256, 1024, 0, 0}, {0, 1, 8, 32, 64, 128, 256, 1024}};

/* COM of the compare unit that owns the pin; 0: none does. */
static uint8_t compared(chip_t *chip, int32_t pin)
{
    const uint8_t *data = data_of(chip);
    int32_t k;

    for (k = 0; k < TIMERS; k++) {
        if (pin == timer_pins[k][0]) {
            return data[timer_places[k].first] >> 6;
        }
        if (pin == timer_pins[k][1]) {
            return (uint8_t)(data[timer_places[k].first] >> 4 & 3U);
        }
    }
    return 0;
}

/* Whether the pin's compare unit runs in a mode of avr_pwm.c. */
static uint8_t reckoned(chip_t *chip, int32_t pin)
{
    int32_t k;

    for (k = 0; k < 2 * TIMERS; k++) {
        const pwm_unit_t *unit = &chip->timers[k / 2].units[k % 2];
        if (unit->pin == pin && unit->connected) {
            return chip->timers[k / 2].kind != PWM_NONE;
        }
    }
    return 0;
}

static void flush(chip_t *chip, uint64_t now)
{
    int32_t k;

    for (k = 0; k < TIMERS; k++) {
        pwm_flush(&chip->timers[k], now, &chip->sink);
    }
}

static uint8_t is_output(chip_t *chip, int32_t pin)
{
    return (uint8_t)(data_of(chip)[DDR_B + PORT_STEP * (pin >> 3)] >> (pin & 7) & 1U);
}

/* A pin of the library has a level: from a compare unit, from PORT or from outside. */
static void on_pin(void *irq, uint32_t value, void *param)
{
    chip_t *chip = param;
    int32_t pin = 0;

    while (chip->pins[pin] != irq) {
        pin++;
    }
    if (is_output(chip, pin) && !(chip->writing && compared(chip, pin)) && !reckoned(chip, pin)) {
        show(chip, pin, (int8_t)(value & 1U));
    }
}

static void write_through(chip_t *chip, const writer_t *writer, uint16_t address, uint8_t value)
{
    chip->writing = 1;
    if (writer->call) {
        writer->call(chip->avr, address, value, writer->param);
    } else {
        data_of(chip)[address] = value;
    }
    chip->writing = 0;
}

/* PORT, as the program writes it. The library may keep a compare unit's level in PORT as well; so a bit of such a pin
 * that comes back as it was read is not the program's word, and the pin keeps the level of its unit. */
static void write_port(void *avr, uint16_t address, uint8_t value, void *param)
{
    chip_t *chip = param;
    int32_t port = (address - PORT_B) / PORT_STEP;
    uint8_t before = data_of(chip)[address];
    uint8_t shown = value;
    int32_t bit;

    (void)avr;
    for (bit = 0; bit < 8; bit++) {
        uint8_t mask = (uint8_t)(1U << bit);
        if (!compared(chip, 8 * port + bit)) {
            chip->port_written[port] = (uint8_t)((chip->port_written[port] & ~mask) | (value & mask));
            continue;
        }
        if ((before ^ value) & mask) {
            chip->port_written[port] = (uint8_t)((chip->port_written[port] & ~mask) | (value & mask));
        }
        shown = (uint8_t)((shown & ~mask) | (chip->shown[8 * port + bit] == 1 ? mask : 0));
    }
    write_through(chip, &chip->port_writers[port], address, shown);
}

static void connect_units(chip_t *chip)
{
    int32_t k;

    for (k = 0; k < 2 * TIMERS; k++) {
        pwm_unit_t *unit = &chip->timers[k / 2].units[k % 2];
        unit->pin = timer_pins[k / 2][k % 2];
        unit->connected = compared(chip, unit->pin);
        unit->driven = is_output(chip, unit->pin);
    }
}

static void write_direction(void *avr, uint16_t address, uint8_t value, void *param)
{
    chip_t *chip = param;
    int32_t port = (address - DDR_B) / PORT_STEP;
    int32_t bit;

    (void)avr;
    flush(chip, now_of(chip));
    write_through(chip, &chip->direction_writers[port], address, value);
    for (bit = 0; bit < 8; bit++) {
        uint8_t level = (uint8_t)(data_of(chip)[PORT_B + PORT_STEP * port] >> bit & 1U);
        if (!(value >> bit & 1U)) {
            show(chip, 8 * port + bit, UNDRIVEN);
        } else if (!reckoned(chip, 8 * port + bit)) {
            show(chip, 8 * port + bit, (int8_t)level);
        }
    }
    connect_units(chip);
}

/* WGM of a timer, as the data sheet numbers its modes. */
static uint8_t mode_of(const uint8_t *data, int32_t k)
{
    uint8_t first = data[timer_places[k].first], second = data[timer_places[k].first + 1];

    return (uint8_t)((first & 3U) | (second >> 1 & (k == 1 ? 12U : 4U)));
}

static uint8_t kind_of(uint8_t mode, int32_t k)
{
    if (k == 1) {
        return mode == 14 ? PWM_FAST : PWM_NONE;
    }
    return mode == 3 ? PWM_FAST : mode == 1 ? PWM_CORRECT : PWM_NONE;
}

/* TIFRn of a timer in phase-correct mode: its overflow flag, which the library never sets there. */
static uint8_t read_flags(void *avr, uint16_t address, void *param)
{
    chip_t *chip = param;
    int32_t k = address - TIFR0;
    uint8_t flags = data_of(chip)[address];

    if (chip->flag_readers[k]) {
        flags = chip->flag_readers[k](avr, address, chip->flag_params[k]);
    }
    if (chip->timers[k].kind == PWM_CORRECT) {
        flags = (uint8_t)((flags & ~TOV) | pwm_overflowed(&chip->timers[k], now_of(chip)));
    }
    return flags;
}

static void write_flags(void *avr, uint16_t address, uint8_t value, void *param)
{
    chip_t *chip = param;
    int32_t k = address - TIFR0;

    (void)avr;
    if (value & TOV) {
        chip->timers[k].cleared = now_of(chip);
    }
    write_through(chip, &chip->flag_writers[k], address, value);
}

/* Refuse modes whose outputs nobody here has: PWM with another TOP, or toggling in PWM, or interrupts of a timer that the
 * library does not run. */
static void check_modes(chip_t *chip)
{
    int32_t k;

    for (k = 0; k < TIMERS; k++) {
        const uint8_t *data = data_of(chip);
        uint8_t mode = mode_of(data, k), first = data[timer_places[k].first];
        uint8_t plain = k == 1 ? mode == 0 || mode == 4 || mode == 12 : mode == 0 || mode == 2; /* normal, CTC */
        uint8_t toggles = first >> 6 == 1 || (first >> 4 & 3) == 1;

        if (first >> 4 && data[timer_places[k].first + 1] & 7U && !plain
            && (kind_of(mode, k) == PWM_NONE || toggles || (kind_of(mode, k) == PWM_CORRECT && data[TIMSK0 + k]))) {
            chip->failed = TIMER_MODE;
        }
    }
}

/* A timer after its register at `place` has been written. */
static void set_timer(chip_t *chip, int32_t k, uint8_t place, uint64_t now)
{
    pwm_timer_t *timer = &chip->timers[k];
    const uint8_t *registers = &data_of(chip)[timer_places[k].first];
    uint32_t divide = dividers[k == 2][registers[1] & 7U];
    uint8_t wide = k == 1;
    uint32_t count = registers[timer_places[k].count] | (wide ? (uint32_t)registers[timer_places[k].count + 1] << 8 : 0);

    if (place == timer_places[k].compare_a || place == timer_places[k].compare_b) {
        uint32_t value = registers[place] | (wide ? (uint32_t)registers[place + 1] << 8 : 0);
        pwm_compare(timer, &timer->units[place != timer_places[k].compare_a], value, now);
        return;
    }
    if (place == timer_places[k].count || (divide && !timer->divide)) {
        timer->origin = now - (uint64_t)count * divide;
    }
    timer->divide = divide;
    timer->kind = kind_of(mode_of(data_of(chip), k), k);
    timer->top = wide ? (uint32_t)(data_of(chip)[ICR1L] | data_of(chip)[ICR1L + 1] << 8) : 255U;
    timer->top = timer->top ? timer->top : 1U;
    connect_units(chip);
}

/* A pin falls back to what the program wrote to PORT. */
static void let_go(chip_t *chip, int32_t pin)
{
    int32_t port = pin >> 3;
    uint16_t place = (uint16_t)(PORT_B + PORT_STEP * port);
    uint8_t mask = (uint8_t)(1U << (pin & 7));
    uint8_t level = (uint8_t)((data_of(chip)[place] & ~mask) | (chip->port_written[port] & mask));

    write_through(chip, &chip->port_writers[port], place, level);
    if (is_output(chip, pin)) {
        show(chip, pin, level & mask ? 1 : 0);
    }
}

/* Timer 1's registers of 16 bits: TCNT1, ICR1, OCR1A, OCR1B, low byte first. */
static uint8_t is_upper_half(uint16_t address)
{
    return (uint8_t)(address > TCCR1A + 4 && address <= TCCR1A + 11 && address & 1U);
}

/* A lower half is read: the upper one is kept for whoever reads it next, whichever register of these it asks for. */
static uint8_t read_lower_half(void *avr, uint16_t address, void *param)
{
    chip_t *chip = param;
    uint8_t low = data_of(chip)[address];

    if (address == TCCR1A + 4) {
        low = chip->count_reader(avr, address, chip->count_param);
    }
    chip->shared = data_of(chip)[address + 1];
    return low;
}

static uint8_t read_upper_half(void *avr, uint16_t address, void *param)
{
    (void)avr;
    (void)address;
    return ((const chip_t *)param)->shared;
}

/* A register of a timer. A unit that lets a pin go leaves it to PORT. */
static void write_timer(void *avr, uint16_t address, uint8_t value, void *param)
{
    chip_t *chip = param;
    uint64_t now = now_of(chip);
    int32_t k = address < TCCR1A ? 0 : address < TCCR2A ? 1 : 2, pin;
    uint8_t place = (uint8_t)(address - timer_places[k].first), owned[PINS];

    (void)avr;
    if (is_upper_half(address)) {
        chip->shared = value;
        return;
    }
    flush(chip, now);
    for (pin = 0; pin < PINS; pin++) {
        owned[pin] = compared(chip, pin);
    }
    if (is_upper_half((uint16_t)(address + 1))) {
        data_of(chip)[address + 1] = chip->shared;
    }
    write_through(chip, &chip->timer_writers[k][place], address, value);
    data_of(chip)[address] = value;
    set_timer(chip, k, place, now);
    for (pin = 0; pin < PINS; pin++) {
        if (owned[pin] && !compared(chip, pin)) {
            let_go(chip, pin);
        }
    }
}

/* A pin from outside. `SET_EXTERNAL` keeps the level when the program writes PORT or DDR. */
static void drive(chip_t *chip, int32_t pin, int8_t level)
{
    struct { unsigned long name : 7, mask : 8, value : 8; } outer;
    int32_t port = pin >> 3;
    uint8_t mask = 0, value = 0, bit = (uint8_t)(1U << (pin & 7));
    uint8_t *read = &data_of(chip)[PIN_B + PORT_STEP * port];
    uint8_t pulled = (uint8_t)(data_of(chip)[PORT_B + PORT_STEP * port] & bit ? 1 : 0);
    int32_t k;

    chip->outside[pin] = level;
    for (k = 0; k < 8; k++) {
        int8_t outside = chip->outside[8 * port + k];
        mask |= (uint8_t)((outside != UNDRIVEN) << k);
        value |= (uint8_t)((outside == 1) << k);
    }
    memset(&outer, 0, sizeof outer);
    outer.name = (unsigned long)('B' + port) & 0x7FU;
    outer.mask = mask;
    outer.value = value;
    chip->library->ioctl(chip->avr, (uint32_t)(IOPORT_EXTERNAL + 'B' + port), &outer);
    if (!is_output(chip, pin)) {
        uint8_t seen = level == UNDRIVEN ? pulled : (uint8_t)level;
        chip->library->raise(chip->pins[pin], seen);
        *read = (uint8_t)((*read & ~bit) | (seen ? bit : 0)); /* after a reset the library may think it knows */
    }
}

static uint64_t bit_cycles(const uint8_t *data)
{
    uint64_t divisor = (uint64_t)((data[UBRR0H] & 15U) << 8 | data[UBRR0L]) + 1U;

    return divisor * (data[UCSR0A] & U2X0 ? 8U : 16U);
}

static uint64_t byte_cycles(const uint8_t *data)
{
    uint64_t bits = 1U + 5U + (data[UCSR0C] >> 1 & 3U); /* start, data */

    bits += (data[UCSR0C] >> 5 & 1U) + 1U + (data[UCSR0C] >> 3 & 1U); /* parity, stop */
    return bits * bit_cycles(data);
}

static uint64_t on_byte_sent(void *avr, uint64_t when, void *param)
{
    chip_t *chip = param;

    (void)avr;
    add(chip, &chip->sent, chip->base + when, chip->shifted, (int32_t)bit_cycles(data_of(chip)));
    chip->shift_busy = chip->holding;
    if (chip->holding) {
        chip->shifted = chip->held_byte;
        chip->holding = 0;
        return when + byte_cycles(data_of(chip));
    }
    data_of(chip)[UCSR0A] |= TXC0;
    return 0;
}

static void write_serial(void *avr, uint16_t address, uint8_t value, void *param)
{
    chip_t *chip = param;
    uint8_t *data = data_of(chip);

    (void)address;
    if (!(data[UCSR0B] & TXEN0)) {
        return;
    }
    data[UCSR0A] = (uint8_t)(data[UCSR0A] & ~TXC0);
    if (data[UCSR0B] & (TXCIE0 | UDRIE0)) {
        chip->failed = SERIAL_INTERRUPT;
        return;
    }
    if (!chip->shift_busy) {
        chip->shift_busy = 1;
        chip->shifted = value;
        chip->library->timer(avr, byte_cycles(data), on_byte_sent, chip);
    } else if (!chip->holding) {
        chip->holding = 1;
        chip->held_byte = value;
    } /* else the byte is lost, as in the chip */
}

static void write_status(void *avr, uint16_t address, uint8_t value, void *param)
{
    uint8_t *data = data_of(param);

    (void)avr;
    data[address] = (uint8_t)((value & (U2X0 | 1U)) | (data[address] & ~value & TXC0)); /* TXC: a one clears it */
}

static uint8_t read_status(void *avr, uint16_t address, void *param)
{
    const chip_t *chip = param;
    uint8_t status = data_of(param)[address] & (TXC0 | U2X0 | 1U);

    (void)avr;
    return (uint8_t)(status | (chip->arrivals ? RXC0 : 0) | (chip->holding ? 0 : UDRE0) | (chip->overrun ? DOR0 : 0));
}

/* A byte whose stop bit is through. */
static void arrive(chip_t *chip, uint8_t byte)
{
    const uint8_t *data = data_of(chip);

    if (data[UCSR0B] & RXCIE0) {
        chip->failed = SERIAL_INTERRUPT;
    } else if (data[UCSR0B] & RXEN0 && chip->arrivals < 2) {
        chip->arrived[chip->arrivals++] = byte;
    } else {
        chip->overrun = data[UCSR0B] & RXEN0;
    }
}

static uint8_t read_serial(void *avr, uint16_t address, void *param)
{
    chip_t *chip = param;
    uint8_t byte = chip->arrived[0];

    (void)avr;
    (void)address;
    chip->arrived[0] = chip->arrived[1];
    chip->arrivals = (uint8_t)(chip->arrivals ? chip->arrivals - 1 : 0);
    chip->overrun = 0;
    return byte;
}

static uint64_t next_event(const chip_t *chip)
{
    uint64_t next = chip->until;

    if (chip->resumes && chip->resumes < next) {
        next = chip->resumes;
    }
    if (chip->next_driven < chip->driven.count && chip->driven.items[chip->next_driven].cycle < next) {
        next = chip->driven.items[chip->next_driven].cycle;
    }
    if (chip->next_received < chip->received.count && chip->received.items[chip->next_received].cycle < next) {
        next = chip->received.items[chip->next_received].cycle;
    }
    return next;
}

static void mend(chip_t *chip)
{
    if (chip->hangs) {
        memcpy(*(uint8_t **)at(chip, AT_FLASH) + chip->hang_at, chip->mended, 2);
    }
    chip->hangs = 0;
    chip->resumes = 0;
}

/* Everything from outside that is due by a cycle. */
static void happen(chip_t *chip, uint64_t cycle)
{
    if (chip->resumes && cycle >= chip->resumes) {
        mend(chip);
    }
    while (chip->next_driven < chip->driven.count && chip->driven.items[chip->next_driven].cycle <= cycle) {
        const event_t *edge = &chip->driven.items[chip->next_driven++];
        drive(chip, edge->pin, (int8_t)edge->level);
    }
    while (chip->next_received < chip->received.count && chip->received.items[chip->next_received].cycle <= cycle) {
        event_t *byte = &chip->received.items[chip->next_received];
        uint64_t through = byte->cycle + byte_cycles(data_of(chip));

        if (!byte->level) { /* its start bit: a line carries one byte after the other */
            byte->level = 1;
            byte->cycle = through;
            continue;
        }
        arrive(chip, (uint8_t)byte->pin);
        chip->next_received++;
        if (chip->next_received < chip->received.count && byte[1].cycle < byte->cycle) {
            byte[1].cycle = byte->cycle;
        }
    }
    if (cycle >= chip->until) {
        chip->stopped = 1;
    }
}

static uint64_t on_event(void *avr, uint64_t when, void *param)
{
    chip_t *chip = param;

    (void)avr;
    happen(chip, chip->base + when);
    return chip->stopped ? 0 : next_event(chip) - chip->base;
}

static void wake(chip_t *chip)
{
    uint64_t now = now_of(chip), next = next_event(chip);

    chip->library->timer(chip->avr, next > now ? next - now : 1, on_event, chip);
}

static void on_interrupt(void *irq, uint32_t vector, void *param)
{
    (void)irq;
    if (vector) {
        *clock_of(param) += INTERRUPT_ENTRY;
    }
}

static void no_sleep(void *avr, uint64_t cycles)
{
    (void)avr;
    (void)cycles;
}

/* The library's reset call has no parameter of ours; that of a register we have taken over leads to the chip. */
static void on_reset(void *avr)
{
    chip_t *chip = *(chip_t **)((uint8_t *)avr + AT_IO + IO_SIZE * (UDR0 - 32) + IO_WRITE);

    chip->was_reset = 1;
    chip->reset_at = now_of(chip);
    flush(chip, chip->reset_at);
    if (chip->core_reset) {
        chip->core_reset(avr);
    }
}

/* What the library's reset leaves to do: its clock may stand at 0, its timers are gone, its registers are cleared. */
static void after_reset(chip_t *chip)
{
    int32_t pin;

    chip->was_reset = 0;
    chip->base = chip->reset_at - *clock_of(chip);
    if (chip->reason) {
        data_of(chip)[MCUSR] = chip->reason;
    }
    add(chip, &chip->resets, chip->reset_at, data_of(chip)[MCUSR], 0);
    chip->reason = 0;
    chip->shift_busy = chip->holding = chip->arrivals = chip->overrun = 0;
    memset(chip->port_written, 0, sizeof chip->port_written);
    memset(chip->timers, 0, sizeof chip->timers);
    connect_units(chip);
    mend(chip);
    for (pin = 0; pin < PINS; pin++) {
        show(chip, pin, UNDRIVEN);
        drive(chip, pin, chip->outside[pin]);
    }
    for (pin = 0; pin < 8; pin++) {
        chip->library->raise(chip->analog[pin], chip->analog_mv[pin]);
    }
}

static void wrap(chip_t *chip, uint16_t address, write_call_t call, writer_t *before)
{
    uint8_t *place = at(chip, (uint32_t)(AT_IO + IO_SIZE * (address - 32) + IO_WRITE));

    if (before) {
        memcpy(&before->param, place, sizeof(void *));
        memcpy(&before->call, place + 8, sizeof call);
    }
    memcpy(place, &chip, sizeof(void *));
    memcpy(place + 8, &call, sizeof call);
}

/* The call that was there before, and its parameter where it is asked for. */
static read_call_t wrap_read(chip_t *chip, uint16_t address, read_call_t call, void **param)
{
    uint8_t *place = at(chip, (uint32_t)(AT_IO + IO_SIZE * (address - 32) + IO_READ));
    read_call_t before;

    memcpy(&before, place + 8, sizeof before);
    if (param) {
        memcpy(param, place, sizeof(void *));
    }
    memcpy(place, &chip, sizeof(void *));
    memcpy(place + 8, &call, sizeof call);
    return before;
}

static void wrap_serial(chip_t *chip)
{
    wrap(chip, UDR0, write_serial, 0);
    wrap_read(chip, UDR0, read_serial, 0);
    wrap(chip, UCSR0A, write_status, 0);
    wrap_read(chip, UCSR0A, read_status, 0);
}

static void wrap_pins(chip_t *chip)
{
    int32_t k, place;

    for (k = 0; k < PINS; k++) {
        chip->pins[k] = chip->library->io_irq(chip->avr, (uint32_t)(IOPORT + 'B' + (k >> 3)), k & 7);
        chip->library->notify(chip->pins[k], on_pin, chip);
        chip->outside[k] = chip->shown[k] = UNDRIVEN;
    }
    for (k = 0; k < PORTS; k++) {
        wrap(chip, (uint16_t)(PORT_B + PORT_STEP * k), write_port, &chip->port_writers[k]);
        wrap(chip, (uint16_t)(DDR_B + PORT_STEP * k), write_direction, &chip->direction_writers[k]);
    }
    for (k = 0; k < TIMERS; k++) {
        for (place = 0; place <= timer_places[k].compare_b; place++) {
            uint16_t address = (uint16_t)(timer_places[k].first + place);
            wrap(chip, address, write_timer, &chip->timer_writers[k][place]);
        }
        wrap(chip, (uint16_t)(TIFR0 + k), write_flags, &chip->flag_writers[k]);
        chip->flag_readers[k] = wrap_read(chip, (uint16_t)(TIFR0 + k), read_flags, &chip->flag_params[k]);
    }
    wrap(chip, TCCR1A + 11, write_timer, 0);
    chip->count_reader = wrap_read(chip, TCCR1A + 4, read_lower_half, &chip->count_param);
    wrap_read(chip, TCCR1A + 5, read_upper_half, 0);
    wrap_read(chip, TCCR1A + 6, read_lower_half, 0);
    wrap_read(chip, TCCR1A + 7, read_upper_half, 0); /* OCR1A and OCR1B are read as they stand */
    connect_units(chip);
    for (k = 0; k < 8; k++) {
        chip->analog[k] = chip->library->io_irq(chip->avr, ADC_IN, k);
    }
}

/* A chip around a simulator that stands at power-up, its image loaded. NULL without memory. */
chip_t *chip_open(const library_t *library, void *avr)
{
    chip_t *chip = calloc(1, sizeof(chip_t));
    uint8_t *running;
    void (*sleep)(void *, uint64_t) = no_sleep;
    void (*reset)(void *) = on_reset;

    if (!chip) {
        return 0;
    }
    chip->library = library;
    chip->avr = avr;
    chip->sink.to = chip;
    chip->sink.shown = chip->shown;
    chip->sink.edge = tell_edge;
    chip->sink.train = tell_train;
    wrap_pins(chip);
    wrap_serial(chip);
    memcpy(at(chip, AT_SLEEP), &sleep, sizeof sleep);
    memcpy(&chip->core_reset, at(chip, AT_RESET), sizeof reset);
    memcpy(at(chip, AT_RESET), &reset, sizeof reset);
    running = library->interrupt_irq(avr, ANY_INTERRUPT);
    running += RUNNING * ((uint8_t *)chip->pins[1] - (uint8_t *)chip->pins[0]);
    library->notify(running, on_interrupt, chip);
    return chip;
}

static void stand_in_reset(chip_t *chip)
{
    while (!chip->stopped && now_of(chip) < chip->held_until) {
        uint64_t next = next_event(chip);
        next = next < chip->held_until ? next : chip->held_until;
        if (next > now_of(chip)) {
            *clock_of(chip) = next - chip->base;
        }
        happen(chip, next);
    }
}

/* Run to a cycle; FINE, or why not. */
int32_t chip_run(chip_t *chip, uint64_t until)
{
    chip->until = until;
    chip->stopped = now_of(chip) >= until;
    chip->failed = FINE;
    *(uint64_t *)at(chip, AT_LIMIT) = LONGEST_RUN;
    stand_in_reset(chip);
    if (!chip->stopped) {
        wake(chip);
    }
    while (!chip->stopped && !chip->failed) {
        int state = chip->library->run(chip->avr);
        if (chip->was_reset) {
            after_reset(chip);
            wake(chip);
        } else if (state >= DONE) {
            chip->failed = state == DONE ? ENDED : CRASHED;
        }
    }
    flush(chip, now_of(chip));
    if (!chip->failed) {
        check_modes(chip);
    }
    return chip->failed;
}

void chip_drive(chip_t *chip, const event_t *edges, int64_t count)
{
    int64_t k;

    if (chip->next_driven == chip->driven.count) {
        chip->next_driven = chip->driven.count = 0;
    }
    for (k = 0; k < count; k++) {
        add(chip, &chip->driven, edges[k].cycle, edges[k].pin, edges[k].level);
    }
}

/* Bytes whose first begins at a cycle. */
void chip_receive(chip_t *chip, const uint8_t *bytes, int64_t count, uint64_t first)
{
    int64_t k;

    if (chip->next_received == chip->received.count) {
        chip->next_received = chip->received.count = 0;
    }
    for (k = 0; k < count; k++) {
        add(chip, &chip->received, first, bytes[k], 0);
    }
}

void chip_set_analog(chip_t *chip, int32_t input, uint16_t millivolts)
{
    chip->analog_mv[input] = millivolts;
    chip->library->raise(chip->analog[input], millivolts);
}

void chip_reset(chip_t *chip, uint8_t reason, uint64_t held)
{
    chip->reason = reason;
    chip->library->reset(chip->avr);
    after_reset(chip);
    chip->held_until = now_of(chip) + held;
}

/* An endless loop at an address of flash, -1 for where the program is, for some cycles, 0 for until a reset. */
void chip_hang(chip_t *chip, int64_t address, uint64_t cycles)
{
    static const uint8_t loop[2] = {0xFF, 0xCF}; /* rjmp .-2 */
    uint8_t *flash = *(uint8_t **)at(chip, AT_FLASH);

    mend(chip);
    chip->hangs = 1;
    chip->resumes = cycles ? now_of(chip) + cycles : 0;
    chip->hang_at = address < 0 ? *(uint32_t *)at(chip, AT_PC) : (uint32_t)address;
    memcpy(chip->mended, flash + chip->hang_at, 2);
    memcpy(flash + chip->hang_at, loop, 2);
}

uint64_t chip_now(chip_t *chip)
{
    return now_of(chip);
}

/* What was seen has been taken. */
void chip_forget(chip_t *chip)
{
    chip->edges.count = chip->sent.count = chip->resets.count = chip->trains.count = 0;
}

void chip_close(chip_t *chip)
{
    free(chip->edges.items);
    free(chip->sent.items);
    free(chip->resets.items);
    free(chip->trains.items);
    free(chip->driven.items);
    free(chip->received.items);
    free(chip);
}
