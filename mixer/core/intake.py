"""Intake and scale: from receiver pulses and board contacts to commands and positions."""

from mixer.core.ops import (
    ONE,
    Flag,
    Value,
    as_number,
    clamp,
    maximum,
    minimum,
    mul,
    negation,
    select,
)
from mixer.core.plan import ChannelPlan, ContactPlan, FlipPlan, StickPlan, SwitchPlan


def age_after(channel: ChannelPlan, pulse: Value, age: Value, lost_ticks: int) -> tuple[Flag, Value]:
    """Whether this tick brought a good pulse, and the ticks since the last one.

    `pulse` is the µs measured since the last tick, 0 when none came. The age stops growing at
    `lost_ticks`, where the channel counts as lost; a board wakes up with every channel lost.
    """
    good = (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)
    return good, select(good, 0, minimum(age + 1, lost_ticks))


def median_of_three(a: Value, b: Value, c: Value) -> Value:
    """The middle value: one wild pulse among three never gets through."""
    return maximum(minimum(a, b), minimum(maximum(a, b), c))


def scale(stick: StickPlan, pulse: Value) -> Value:
    """Pulse in µs -> command in [-ONE, ONE]: 0 at the centre, full at and beyond either end.

    Exactly odd about the centre when both spans are equal and the trim is 0. Rounds halves away from
    zero. An end is reached exactly: span * round(ONE² / span) is within half a step of ONE².
    """
    away = pulse - stick.centre_us
    if stick.low_span_us == stick.high_span_us:
        command = mul(clamp(away, -stick.low_span_us, stick.high_span_us), stick.high_gain)
    else:
        below = mul(clamp(away, -stick.low_span_us, 0), stick.low_gain)
        above = mul(clamp(away, 0, stick.high_span_us), stick.high_gain)
        command = select(away < 0, below, above)
    if stick.reverse:
        command = -command
    return clamp(command + stick.trim, -ONE, ONE) if stick.trim else command


def position_of(switch: SwitchPlan, pulse: Value, position: Value) -> Value:
    """The switch's position, staying as it was while the pulse is inside an edge's hysteresis band.

    Positions count from 0 at the low end (from the high end when reversed).
    """
    last = len(switch.edges_us)
    raised = last - position if switch.reverse else position
    passed: Value = 0
    for number, edge in enumerate(switch.edges_us, start=1):
        threshold = select(raised >= number, edge - switch.hysteresis_us, edge + switch.hysteresis_us)
        passed = passed + as_number(pulse >= threshold)
    return last - passed if switch.reverse else passed


def command_of(switch: SwitchPlan, position: Value) -> Value:
    """A switch in the mix: 0 and full for two positions, full back, 0 and full for three."""
    return (position - (len(switch.edges_us) - 1)) * ONE


def contact_after(contact: ContactPlan, reading: Value, remaining: Value) -> tuple[Flag, Value]:
    """Whether the contact counts as closed, and the ticks it would stay so without closing again.

    Closing counts at the first touch, opening only after `release_ticks` of reading open: an
    off-delay timer (TOF of IEC 61131-3). Bounce can therefore lengthen a stop, never miss one.
    """
    touching = reading == contact.closed_reads
    remaining = select(touching, contact.release_ticks, maximum(remaining - 1, 0))
    return touching | (remaining > 0), remaining


def flipped_after(flip: FlipPlan, reading: Flag, flipped: Value, waited: Value) -> tuple[Value, Value]:
    """Whether the robot counts as upside down, and for how many ticks the reading has disagreed.

    The other reading must last `settle_ticks` without a break (an on-delay timer in both directions).
    """
    differs = as_number(reading) == negation_of(flipped)
    waited = select(differs, waited + 1, 0)
    settled = waited >= flip.settle_ticks
    return select(settled, negation_of(flipped), flipped), select(settled, 0, waited)


def negation_of(number: Value) -> Value:
    """1 for 0 and 0 for 1."""
    return as_number(negation(number > 0))
