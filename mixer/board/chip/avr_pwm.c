/* The compare outputs of an ATmega328P's timers in their PWM modes, as functions of time.
 *
 * The library's timers take a new OCRnx at once, do not run in phase-correct modes, and are high where an inverted
 * output at TOP is low. So the pins are reckoned here, from the registers alone (data sheet 15.7.3, 15.7.4, 16.9.3):
 *
 *   fast            counts 0 to TOP; high, inverted low, for OCR + 1 counts from BOTTOM; OCR = TOP: constant
 *   phase-correct   up to TOP and down; high, inverted low, around BOTTOM for 2 OCR counts; OCR = 0, OCR = TOP: constant
 *
 * OCRnx is buffered: what is written counts from the next BOTTOM on (fast), or from the next TOP on (phase-correct).
 * Nothing is done while time passes; `pwm_flush` gives the edges of a stretch, many equal pulses as one train.
 */
#include <stdint.h>

enum { PWM_NONE = 0, PWM_FAST = 1, PWM_CORRECT = 2 };

typedef struct {
    void *to;
    const int8_t *shown; /* each pin's level as last told */
    void (*edge)(void *to, uint64_t cycle, int32_t pin, int8_t level);
    void (*train)(void *to, uint64_t cycle, int32_t pin, uint32_t high, uint32_t period, uint32_t repeats);
} sink_t;

typedef struct {
    int32_t pin;
    uint8_t connected; /* COM: 0, 2, 3 inverted */
    uint8_t driven;    /* the pin is an output */
    uint32_t compare;  /* in force */
    uint32_t next;     /* in force from `from` on */
    uint64_t from;
    uint64_t done;     /* edges up to here are told */
} pwm_unit_t;

typedef struct {
    uint8_t kind;
    uint32_t divide; /* cycles a count; 0: the counter stands */
    uint32_t top;
    uint64_t origin;  /* when it was at BOTTOM, going up */
    uint64_t cleared; /* when the program last cleared its overflow flag */
    pwm_unit_t units[2];
} pwm_timer_t;

static uint64_t pwm_period(const pwm_timer_t *timer)
{
    return (uint64_t)(timer->kind == PWM_FAST ? timer->top + 1U : 2U * timer->top) * timer->divide;
}

/* Whether the counter has been at BOTTOM since the overflow flag was cleared. */
static uint8_t pwm_overflowed(const pwm_timer_t *timer, uint64_t now)
{
    uint64_t period = pwm_period(timer), cleared = timer->cleared > timer->origin ? timer->cleared : timer->origin;

    return period && (now - timer->origin) / period != (cleared - timer->origin) / period;
}

/* How far into a period from `origin` the buffered compare value is taken. */
static uint64_t pwm_taken_at(const pwm_timer_t *timer)
{
    return timer->kind == PWM_FAST ? 0 : (uint64_t)timer->top * timer->divide;
}

/* One period's pulse: `rise` after `origin`, `high` long. Constant levels have high = 0 or a whole period. */
static void pwm_shape(const pwm_timer_t *timer, const pwm_unit_t *unit, uint64_t *rise, uint64_t *high)
{
    uint64_t period = pwm_period(timer), count = timer->divide, compare = unit->compare;
    uint64_t long_first; /* the length of the part that begins at `rise`, not inverted */

    compare = compare < timer->top ? compare : timer->top;
    if (timer->kind == PWM_FAST) {
        *rise = 0;
        long_first = (compare + 1U) * count;
    } else {
        *rise = (2U * timer->top - compare) * count % period;
        long_first = 2U * compare * count;
    }
    *high = long_first;
    if (unit->connected == 3) {
        *rise = (*rise + long_first) % period;
        *high = period - long_first;
    }
}

/* The edges in (low, high] while one compare value is in force; at `low` the level is put right. */
static void pwm_emit(const pwm_timer_t *timer, const pwm_unit_t *unit, uint64_t low, uint64_t last, const sink_t *sink)
{
    uint64_t period = pwm_period(timer), rise, high, into, at;
    int8_t level;

    pwm_shape(timer, unit, &rise, &high);
    into = (low + 4U * period - (timer->origin % period) - rise) % period;
    level = into < high;
    if (sink->shown[unit->pin] != level) {
        sink->edge(sink->to, low, unit->pin, level);
    }
    if (high == 0 || high == period) {
        return;
    }
    if (level) {
        at = low + (high - into);
        if (at > last) {
            return;
        }
        sink->edge(sink->to, at, unit->pin, 0);
        at += period - high;
    } else {
        at = low + (period - into);
    }
    if (at + high <= last) {
        uint64_t repeats = (last - at - high) / period + 1U;
        sink->train(sink->to, at, unit->pin, (uint32_t)high, (uint32_t)period, (uint32_t)repeats);
        at += repeats * period;
    }
    if (at <= last) {
        sink->edge(sink->to, at, unit->pin, 1);
    }
}

static void pwm_flush_unit(const pwm_timer_t *timer, pwm_unit_t *unit, uint64_t now, const sink_t *sink)
{
    if (timer->kind != PWM_NONE && unit->connected && unit->driven && timer->divide) {
        if (unit->next != unit->compare && unit->from <= now) {
            uint64_t from = unit->from > unit->done ? unit->from : unit->done;
            if (from > unit->done) {
                pwm_emit(timer, unit, unit->done, from - 1U, sink); /* at `from` itself the new value holds */
            }
            unit->compare = unit->next;
            unit->done = from;
        }
        pwm_emit(timer, unit, unit->done, now, sink);
    } else if (unit->from <= now) {
        unit->compare = unit->next;
    }
    unit->done = now;
}

/* Tell all edges up to now. */
static void pwm_flush(pwm_timer_t *timer, uint64_t now, const sink_t *sink)
{
    pwm_flush_unit(timer, &timer->units[0], now, sink);
    pwm_flush_unit(timer, &timer->units[1], now, sink);
}

/* OCRnx is written; everything up to now has been told. */
static void pwm_compare(const pwm_timer_t *timer, pwm_unit_t *unit, uint32_t value, uint64_t now)
{
    unit->next = value;
    unit->from = now;
    if (timer->kind != PWM_NONE && timer->divide) {
        uint64_t period = pwm_period(timer);
        uint64_t since = (now + 4U * period - timer->origin % period - pwm_taken_at(timer)) % period;
        unit->from = now + (period - since);
    }
}
