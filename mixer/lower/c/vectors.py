"""The test vectors of an export: inputs that visit the whole mix, and what the core makes of them.

The trace depends on the plan alone. It arms the robot as its driver would, sweeps every stick over its
range and beyond, throws every switch, puts all sticks to their ends at once in every position of a switch,
closes every contact, loses channels one by one and all together, arms again after each loss, and ends in
pulses at random. Numbers come from a linear congruential generator
(multiplier and increment of Numerical Recipes in C, 2nd edition, section 7.1), so that no library matters.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.rest import (
    arming,
    contact_levels,
    frame_ticks,
    position_pulse,
    resting_inputs,
)
from mixer.core.tick import flat_tick

_SWEEP = 24
_RANDOM_TICKS = 300
_MOST_CORNERS = 16


@dataclass
class Noise:
    """Numbers that look random and are always the same."""

    seed: int = 1

    def below(self, count: int) -> int:
        """A whole number from 0 to count - 1."""
        self.seed = (self.seed * 1664525 + 1013904223) % 2**32
        return (self.seed >> 16) % count


def vector_trace(plan: Plan) -> list[tuple[int, ...]]:
    """Rows of inputs, one a tick, in the order of the plan's layout."""
    rows = [(0,) * len(plan.channels) + tuple(contact_levels(plan))] * 3
    for part in (_sticks, _switches, _corners, _contacts, _losses):
        rows += _arming(plan)
        rows += part(plan)
    rows += _arming(plan)
    rows += _random(plan)
    return rows


@dataclass(frozen=True)
class Vectors:
    """What the core makes of a trace, and what the trace is worth as a test."""

    text: str
    """vectors.csv (RFC 4180): the tick's number, its inputs, and the signals the core gives."""
    ticks: int
    live_ticks: int
    """Those in which the outputs followed the sticks."""
    moved: tuple[str, ...]
    """Outputs that left zero at least once."""


def vectors_of(plan: Plan, signals: Sequence[str], rows: Sequence[Sequence[int]] | None = None) -> Vectors:
    """Run the core over `rows`, the inputs of each tick; without them over `vector_trace`."""
    layout = layout_of(plan)
    places = [layout.index(name) for name in signals]
    guard = layout.places.guard.state
    commands = {
        output.name: now.command for output, now in zip(plan.outputs, layout.places.outputs, strict=True)
    }
    lines = [",".join(_cell(name) for name in ("tick", *layout.inputs, *signals))]
    state: Sequence[int] = layout.start
    live, moved = 0, dict.fromkeys(commands, False)
    for number, row in enumerate(vector_trace(plan) if rows is None else rows):
        after = flat_tick(plan, row, state)
        state = after.state
        live += after.signals[guard] == Guard.LIVE
        for name, place in commands.items():
            moved[name] = moved[name] or after.signals[place] != 0
        lines.append(",".join(map(str, (number, *row, *(after.signals[place] for place in places)))))
    names = tuple(name for name, has in moved.items() if has)
    return Vectors("\n".join(lines) + "\n", len(lines) - 1, live, names)


def _cell(name: str) -> str:
    quoted = name.replace('"', '""')
    return f'"{quoted}"' if any(letter in name for letter in ',"\n\r') else name


def _framed(plan: Plan, rows: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """The rows as a board meets them: pulses once a frame, contacts on every tick."""
    wires = len(plan.channels)
    period = frame_ticks(plan)
    gap = (0,) * wires
    return [row if number % period == 0 else gap + row[wires:] for number, row in enumerate(rows)]


def _held(plan: Plan, row: tuple[int, ...]) -> list[tuple[int, ...]]:
    """The row for one frame."""
    return [row] * frame_ticks(plan)


def _resting(plan: Plan) -> tuple[int, ...]:
    """Armed, hands off."""
    return tuple(resting_inputs(plan, armed=True))


def _arming(plan: Plan) -> list[tuple[int, ...]]:
    """Arm off, then on, both with everything at rest for long enough."""
    return [tuple(row) for row in arming(plan, frame_ticks(plan))]


def _with(row: tuple[int, ...], place: int, value: int) -> tuple[int, ...]:
    return (*row[:place], value, *row[place + 1 :])


def _sticks(plan: Plan) -> list[tuple[int, ...]]:
    """Each stick swept alone, then all of them wandering together."""
    rows: list[tuple[int, ...]] = []
    rest = _resting(plan)
    for stick in plan.sticks:
        low, high = stick.centre_us - stick.low_span_us - 60, stick.centre_us + stick.high_span_us + 60
        for step in range(_SWEEP + 1):
            rows += _held(plan, _with(rest, stick.channel, low + (high - low) * step // _SWEEP))
    dice = Noise(2)
    for _ in range(2 * _SWEEP):
        row = rest
        for stick in plan.sticks:
            reach = stick.low_span_us + stick.high_span_us + 1
            row = _with(row, stick.channel, stick.centre_us - stick.low_span_us + dice.below(reach))
        rows += _held(plan, row)
    return _framed(plan, rows)


def _switches(plan: Plan) -> list[tuple[int, ...]]:
    """Every position of every switch but the arm switch, with the sticks half way."""
    rows: list[tuple[int, ...]] = []
    row = _half(plan)
    for number, switch in enumerate(plan.switches):
        if number != plan.guard.arm_switch:
            for position in (*range(len(switch.edges_us) + 1), 0):
                rows += _held(plan, _with(row, switch.channel, position_pulse(plan, switch, position))) * 4
    return _framed(plan, rows or _held(plan, row))


def _corners(plan: Plan) -> list[tuple[int, ...]]:
    """Every stick at an end, one corner after the opposite one, in every position of every switch.

    That is where outputs are asked for more than they have, and change the most.
    """
    rows: list[tuple[int, ...]] = []
    corners = _corners_of(len(plan.sticks))
    for position in _positions(plan):
        rows += _held(plan, position) * 4
        for ends in corners:
            row = position
            for stick, is_high in zip(plan.sticks, ends, strict=True):
                pulse = stick.centre_us + (stick.high_span_us if is_high else -stick.low_span_us)
                row = _with(row, stick.channel, pulse)
            rows += _held(plan, row)
    return _framed(plan, rows)


def _corners_of(sticks: int) -> list[tuple[bool, ...]]:
    """For each stick whether it is at its higher end: each corner before its opposite, all where few."""
    dice = Noise(4)
    half = 1 << max(sticks - 1, 0)
    several = [dice.below(half) for _ in range(_MOST_CORNERS // 2)]
    numbers = several if 2 * half > _MOST_CORNERS else range(half)
    highs = [tuple(bool(number >> stick & 1) for stick in range(sticks)) for number in numbers]
    return [ends for high in highs for ends in (high, tuple(not end for end in high))]


def _positions(plan: Plan) -> Iterator[tuple[int, ...]]:
    """Armed and hands off, with one switch after the other in each of its positions."""
    rest = _resting(plan)
    yield rest
    for number, switch in enumerate(plan.switches):
        if number != plan.guard.arm_switch:
            for position in range(len(switch.edges_us) + 1):
                yield _with(rest, switch.channel, position_pulse(plan, switch, position))


def _half(plan: Plan) -> tuple[int, ...]:
    row = _resting(plan)
    for stick in plan.sticks:
        away = stick.high_span_us // 2 or -(stick.low_span_us // 2)
        row = _with(row, stick.channel, stick.centre_us + away)
    return row


def _contacts(plan: Plan) -> list[tuple[int, ...]]:
    """Every contact closed alone while driving, then all closed together."""
    rows: list[tuple[int, ...]] = []
    row, wires = _half(plan), len(plan.channels)
    for number, contact in enumerate(plan.contacts):
        rows += _held(plan, _with(row, wires + number, contact.closed_reads)) * 2
        rows += _held(plan, row) * 2
    closed = row[:wires] + tuple(contact.closed_reads for contact in plan.contacts)
    longest = max((actuator.both_ticks for actuator in plan.actuators), default=0)
    return _framed(plan, [*rows, *[closed] * (longest + 2)])


def _losses(plan: Plan) -> list[tuple[int, ...]]:
    """Each channel lost alone, then all of them, each for longer than the plan bridges, each armed anew."""
    rows: list[tuple[int, ...]] = []
    everything = set(range(len(plan.channels)))
    for lost in [*({number} for number in everything), everything]:
        driven = _framed(plan, [_half(plan)] * (plan.guard.lost_ticks + 4))
        rows += [
            tuple(0 if number in lost else value for number, value in enumerate(row)) for row in driven
        ]
        rows += _arming(plan)
        rows += _framed(plan, _held(plan, _half(plan)) * 2)
    return rows


def _random(plan: Plan) -> list[tuple[int, ...]]:
    """Pulses near and far, readings of any kind."""
    dice = Noise(3)
    return list(_random_rows(plan, dice, _RANDOM_TICKS))


def _random_rows(plan: Plan, dice: Noise, count: int) -> Iterator[tuple[int, ...]]:
    for _ in range(count):
        pulses = [800 + dice.below(1400) if dice.below(8) else dice.below(65536) for _ in plan.channels]
        yield (*pulses, *(dice.below(2) for _ in plan.contacts))
