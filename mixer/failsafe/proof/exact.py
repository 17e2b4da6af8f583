"""What the core asks of its outputs, against the same mix in exact arithmetic.

Every pulse of every stick is tried, the other sticks at rest and at both ends, in the positions of the
switches that have a say and both ways up, with every policy for more than full. The core is run as its
graph; the mix beside it is worked out from what the plan's numbers stand for, without rounding (in 64-bit
floats, whose own error is a millionth of a part).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import GroupPlan, OutputPlan, OverRange, Plan, ShapePlan, StickPlan, SwitchPosition
from mixer.core.rest import good_pulse, position_pulse, resting_position, resting_pulses
from mixer.lower.run.arrays import ArrayTick

Reals = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int32]
FEW = 27
"""Combinations up to which all are tried; beyond, each part at each of its places by itself."""


@dataclass(frozen=True, slots=True)
class Exactness:
    """How the core compares with exact arithmetic."""

    points: int
    worst: float
    """The most that a target was off, in parts of 16384."""
    holds: bool
    """Whether no target was further off than the roundings on its way can add up to."""

    @property
    def words(self) -> str:
        """What was tried and found, in one sentence."""
        tried = f"{self.points} points, every pulse of each stick with the others at rest and both ends"
        off = "within" if self.holds else "NOT exact: off by up to"
        return (
            f"tried at {tried}: what is asked of outputs is {off} {self.worst:.1f}/16384 of the exact mix"
        )


def exactness(plan: Plan) -> Exactness:
    """The core at every pulse of every stick."""
    points, worst, holds = 0, 0.0, True
    roundings = _roundings(plan)
    for stick in plan.sticks:
        inputs, positions, flipped = _swept(plan, stick)
        blended = _blended(plan, inputs[: len(plan.channels)].astype(np.float64), positions, flipped)
        said = zip(plan.outputs, _said(plan, inputs), blended, roundings, strict=True)
        for output, got, mixed, rounding in said:
            gained = np.clip(mixed * (output.gain / ONE), -ONE, ONE)
            before = rounding * output.gain / ONE + 1
            low, exact, high = (_target(output, gained + step) for step in (-before, 0.0, before))
            holds &= bool(((got >= low - 1) & (got <= high + 1)).all())
            clear = np.abs(gained) > (before if output.breakaway else -1)
            worst = max(worst, float(np.where(clear, np.abs(exact - got), 0).max()))
        points += inputs.shape[1]
    return Exactness(points, worst, holds)


# ---- Where everything stands -----------------------------------------------------------------------


def _swept(plan: Plan, stick: StickPlan) -> tuple[Whole, Whole, npt.NDArray[np.bool_]]:
    """Every good pulse of a stick at every place of the rest: inputs, switch positions, upside down."""
    wire, told_by = plan.channels[stick.channel], plan.flip and plan.flip.told_by
    swept = np.arange(wire.good_low_us, wire.good_high_us + 1)
    rows, positions, flips = [], [], []
    for place in _places(plan, stick):
        pulses, levels = resting_pulses(plan, armed=True), [c.level(closed=False) for c in plan.contacts]
        for channel, pulse in place.sticks:
            pulses[channel] = pulse
        for number, position in enumerate(place.positions):
            pulses[plan.switches[number].channel] = position_pulse(plan, plan.switches[number], position)
        flipped = (
            isinstance(told_by, SwitchPosition) and place.positions[told_by.switch] == told_by.position
        )
        if isinstance(told_by, int) and place.over:
            levels[told_by], flipped = plan.contacts[told_by].level(closed=True), True
        rows.append([*pulses, *levels])
        positions.append(place.positions)
        flips.append(flipped)
    count = len(swept)
    inputs = np.array(rows, np.int32).T.repeat(count, axis=1)
    inputs[stick.channel] = np.tile(swept, len(rows))
    at = np.array(positions, np.int32).reshape(len(rows), -1).T.repeat(count, axis=1)
    return inputs, at, np.array(flips).repeat(count)


class _Place(NamedTuple):
    sticks: tuple[tuple[int, int], ...]
    """Channel and pulse of every other stick."""
    positions: tuple[int, ...]
    over: bool


def _places(plan: Plan, swept: StickPlan) -> Iterator[_Place]:
    """Where the other sticks, the switches with a say and a flip contact may stand."""
    rest = resting_pulses(plan, armed=True)
    others = [stick for stick in plan.sticks if stick is not swept]
    ends = [
        (
            rest[o.channel],
            *(good_pulse(plan, o.channel, o.centre_us + way) for way in (-o.low_span_us, o.high_span_us)),
        )
        for o in others
    ]
    told_by = plan.flip and plan.flip.told_by
    says = {stick.chooser for stick in plan.sticks} | set(plan.mixed_switches)
    says |= {told_by.switch} if isinstance(told_by, SwitchPosition) else set()
    still = [resting_position(plan, number, armed=True) for number in range(len(plan.switches))]
    switches = [
        (at, *(other for other in range(len(switch.edges_us) + 1) if other != at and number in says))
        for number, (switch, at) in enumerate(zip(plan.switches, still, strict=True))
    ]
    over = (0, 1) if isinstance(told_by, int) else (0,)
    for picked, (*positions, upside_down) in product(_spread(ends), _spread([*switches, over])):
        channels = (other.channel for other in others)
        yield _Place(tuple(zip(channels, picked, strict=True)), tuple(positions), bool(upside_down))


def _spread(places: Sequence[Sequence[int]]) -> list[tuple[int, ...]]:
    """All combinations where they are few, else each part at each of its places, the rest at the first."""
    if int(np.prod([len(each) for each in places])) <= FEW:
        return list(product(*places))
    still = tuple(each[0] for each in places)
    moved = ((*still[:at], place, *still[at + 1 :]) for at, each in enumerate(places) for place in each[1:])
    return [
        still,
        *moved,
        *(tuple(each[end] for each in places) for end in (-1, -2 % min(map(len, places)))),
    ]


def _said(plan: Plan, inputs: Whole) -> list[Whole]:
    """What the core asks of each output, once it believes which way up it lies."""
    names = [output.limited for output in layout_of(plan).names.outputs]
    boards = ArrayTick(plan, inputs.shape[1], names)
    for _ in range(1 if plan.flip is None else plan.flip.settle_ticks):
        signals = boards.step(inputs)
    return [signals[boards.names.index(name)] for name in names]


# ---- Without rounding ------------------------------------------------------------------------------


def _blended(plan: Plan, pulses: Reals, positions: Whole, flipped: npt.NDArray[np.bool_]) -> list[Reals]:
    """Each output's share of the mix within range, in parts."""
    sources = [_command(stick, pulses[stick.channel], positions, flipped) for stick in plan.sticks]
    sources += [positions[at] - float(len(plan.switches[at].edges_us) - 1) for at in plan.mixed_switches]
    parts = [[w / ONE * source for w, source in zip(o.weights, sources, strict=True)] for o in plan.outputs]
    mixed = [np.sum(row, axis=0) for row in parts]
    within = [np.clip(value, -1, 1) for value in mixed]
    for group in plan.groups:
        for at, value in zip(group.outputs, _group(plan, group, parts), strict=True):
            within[at] = np.clip(value, -1, 1)
    return [value * ONE for value in within]


def _command(stick: StickPlan, pulse: Reals, positions: Whole, flipped: npt.NDArray[np.bool_]) -> Reals:
    way = pulse - stick.centre_us
    x = np.where(way < 0, way / (stick.low_span_us or np.inf), way / (stick.high_span_us or np.inf))
    x = np.clip(x, -1, 1) * (-1 if stick.reverse else 1)
    x = np.clip(x + stick.trim / ONE, -1, 1)
    bent = _bent(stick.shapes[-1], x)
    for number, shape in enumerate(stick.shapes[:-1] if stick.chooser is not None else ()):
        bent = np.where(positions[stick.chooser] == number, _bent(shape, x), bent)
    return np.where(flipped, -bent, bent) if stick.flips else bent


def _bent(shape: ShapePlan, x: Reals) -> Reals:
    band, k = shape.band / ONE, shape.expo / ONE
    x = (x - np.clip(x, -band, band)) / (1 - band)
    return ((1 - k) * x + k * x**3) * (shape.rate / ONE)


def _group(plan: Plan, group: GroupPlan, parts: Sequence[Sequence[Reals]]) -> list[Reals]:
    rows = [parts[at] for at in group.outputs]
    mixed, giver = [np.sum(row, axis=0) for row in rows], group.yielding
    if group.policy is OverRange.SCALE:
        return _shrunk(mixed)
    if giver is None:
        return mixed
    giving = [row[giver] for row in rows]
    rest = [value - part for value, part in zip(mixed, giving, strict=True)]
    if _crowded(plan, group):
        rest = _shrunk(rest)
    factor = np.ones_like(mixed[0])
    for part, kept in zip(giving, rest, strict=True):
        room = 1 - np.where(part < 0, -kept, kept)
        factor = np.minimum(factor, np.where(part == 0, 1, room / np.where(part == 0, 1, np.abs(part))))
    return [kept + part * np.clip(factor, 0, 1) for part, kept in zip(giving, rest, strict=True)]


def _shrunk(values: Sequence[Reals]) -> list[Reals]:
    peak = np.maximum(np.max(np.abs(values), axis=0), 1)
    return [value / peak for value in values]


def _crowded(plan: Plan, group: GroupPlan) -> bool:
    """Whether what does not give way may be more than full by itself."""
    rows = [plan.outputs[at].weights for at in group.outputs]
    return any(sum(map(abs, row)) - abs(row[group.yielding or 0]) > ONE for row in rows)


def _target(output: OutputPlan, gained: Reals) -> Reals:
    """After breakaway and limit, in parts."""
    x = np.sign(gained) * output.breakaway + gained * (1 - output.breakaway / ONE)
    return np.clip(x, -output.limit, output.limit)


# ---- What roundings can come to --------------------------------------------------------------------


def _roundings(plan: Plan) -> list[float]:
    """Of each output's share of the mix, in parts: half a part a product, grown by what comes after it."""
    sticks = [max(_of_shape(shape) for shape in stick.shapes) for stick in plan.sticks]
    errors = [*sticks, *(0.0 for _ in plan.mixed_switches)]
    own = [
        sum(abs(w) / ONE * e + 0.5 for w, e in zip(o.weights, errors, strict=True) if w)
        for o in plan.outputs
    ]
    for group in plan.groups:
        most = max(own[at] for at in group.outputs)
        if group.policy is OverRange.SCALE:
            grown = 2 * most + 5
        elif group.yielding is not None:
            given = [abs(plan.outputs[at].weights[group.yielding]) for at in group.outputs]
            uneven = max(given) / min((weight for weight in given if weight), default=1)
            kept = 2 * most + 5 if _crowded(plan, group) else most
            grown = kept + most + uneven * (kept + most + 1) + 3
        else:
            grown = most
        for at in group.outputs:
            own[at] = grown
    return own


def _of_shape(shape: ShapePlan) -> float:
    band, k = shape.band / ONE, shape.expo / ONE
    banded = 0.6 / (1 - band) + 1 if band else 0.6
    curved = banded * max(abs(1 - k), abs(1 + 2 * k)) + 2 if k else banded
    return curved * shape.rate / ONE + 0.5
