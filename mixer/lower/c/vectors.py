"""The test vectors of an export: inputs that visit the whole mix, and what the core makes of them.

The trace depends on the plan alone. It arms the robot as its driver would, sweeps every stick over its
range and beyond, throws every switch, closes every contact, loses channels one by one and all together,
arms again after each loss, and ends in pulses at random. Numbers come from a linear congruential generator
(multiplier and increment of Numerical Recipes in C, 2nd edition, section 7.1), so that no library matters.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.core.layout import layout_of
from mixer.core.plan import Plan, SwitchPlan
from mixer.core.tick import tick

_FRAME_MS = 20  # common practice: a receiver frame every 20 ms
_SWEEP = 24
_RANDOM_TICKS = 300


@dataclass
class Dice:
    """Numbers that look random and are always the same."""

    seed: int = 1

    def below(self, count: int) -> int:
        """A whole number from 0 to count - 1."""
        self.seed = (self.seed * 1664525 + 1013904223) % 2**32
        return (self.seed >> 16) % count


def vector_trace(plan: Plan) -> list[tuple[int, ...]]:
    """Rows of inputs, one a tick, in the order of the plan's layout."""
    nothing = (0,) * len(plan.channels) + _resting(plan)[len(plan.channels) :]
    rows = [nothing] * 3
    for part in (_sticks, _switches, _contacts, _losses):
        rows += _arming(plan)
        rows += part(plan)
    rows += _arming(plan)
    rows += _random(plan)
    return rows


def vectors_text(plan: Plan, signals: Sequence[str], rows: Sequence[Sequence[int]] | None = None) -> str:
    """vectors.csv (RFC 4180): the tick's number, its inputs, and the signals the core gives.

    `rows` are the inputs of each tick; without them `vector_trace` gives them.
    """
    layout = layout_of(plan)
    places = [layout.index(name) for name in signals]
    lines = [",".join(_cell(name) for name in ("tick", *layout.inputs, *signals))]
    state: Sequence[int] = layout.start
    for number, row in enumerate(vector_trace(plan) if rows is None else rows):
        after = tick(plan, row, state)
        state = after.state
        lines.append(",".join(map(str, (number, *row, *(after.signals[place] for place in places)))))
    return "\n".join(lines) + "\n"


def _cell(name: str) -> str:
    quoted = name.replace('"', '""')
    return f'"{quoted}"' if any(letter in name for letter in ',"\n\r') else name


def _framed(plan: Plan, rows: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """The rows as a board meets them: pulses once a frame, contacts on every tick."""
    wires = len(plan.channels)
    period = max(1, min(_FRAME_MS // plan.tick_ms, plan.guard.lost_ticks))
    gap = (0,) * wires
    return [row if number % period == 0 else gap + row[wires:] for number, row in enumerate(rows)]


def _held(plan: Plan, row: tuple[int, ...]) -> list[tuple[int, ...]]:
    """The row for one frame."""
    return [row] * max(1, min(_FRAME_MS // plan.tick_ms, plan.guard.lost_ticks))


def _resting(plan: Plan, armed: bool = True) -> tuple[int, ...]:
    """Sticks centred, mixed switches without effect, the arm switch as asked, no contact closed."""
    pulses = [(channel.good_low_us + channel.good_high_us) // 2 for channel in plan.channels]
    for stick in plan.sticks:
        pulses[stick.channel] = stick.centre_us
    for number, switch in enumerate(plan.switches):
        position = len(switch.edges_us) - 1 if number in plan.mixed_switches else 0
        if number == plan.guard.arm_switch:
            on = plan.guard.arm_position
            position = on if armed else (on + 1) % (len(switch.edges_us) + 1)
        pulses[switch.channel] = _pulse_for(switch, position)
    return (*pulses, *(1 - contact.closed_reads for contact in plan.contacts))


def _pulse_for(switch: SwitchPlan, position: int) -> int:
    """A pulse in the middle of a position."""
    raised = len(switch.edges_us) - position if switch.reverse else position
    marks = (switch.edges_us[0] - 400, *switch.edges_us, switch.edges_us[-1] + 400)
    return (marks[raised] + marks[raised + 1]) // 2


def _arming(plan: Plan) -> list[tuple[int, ...]]:
    """Arm off, then on, both with everything at rest for long enough."""
    settle = plan.flip.settle_ticks if plan.flip else 0
    release = max((contact.release_ticks for contact in plan.contacts), default=0)
    off = _held(plan, _resting(plan, armed=False)) * 3 + [_resting(plan, armed=False)] * release
    waits = settle + plan.guard.hold_ticks + 1
    on = _held(plan, _resting(plan)) * 3 + [_resting(plan)] * waits
    return _framed(plan, off + on)


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
    dice = Dice(2)
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
                rows += _held(plan, _with(row, switch.channel, _pulse_for(switch, position))) * 4
    return _framed(plan, rows or _held(plan, row))


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
    dice = Dice(3)
    return list(_random_rows(plan, dice, _RANDOM_TICKS))


def _random_rows(plan: Plan, dice: Dice, count: int) -> Iterator[tuple[int, ...]]:
    for _ in range(count):
        pulses = [800 + dice.below(1400) if dice.below(8) else dice.below(65536) for _ in plan.channels]
        yield (*pulses, *(dice.below(2) for _ in plan.contacts))
