"""Which wire goes to which pin: an exact search, so that "does not fit" is a proof.

Wires are placed one after the other, each on the pin liked best with which the rest can still be placed.
Whether it can is asked of a matching (Kuhn, 1955: augmenting paths) of the wires left to pins left, which
looks away from some of what PWM pins of one timer share. Wires with PWM therefore come first: they may
have to be taken back.
"""

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from mixer.board.kinds.kind import Board, Pin, Use
from mixer.board.wiring.wires import Wire
from mixer.profile.read.lines import KeyPath

MOST_STEPS = 20_000
"""Placements tried before the search says that it gave up; what real robots need is under a hundred."""

Places = dict[Wire, Pin]
Place = TypeVar("Place", bound=Hashable)


class GaveUpError(Exception):
    """The search took more than `MOST_STEPS`: neither a fit nor a proof that there is none."""


@dataclass(frozen=True)
class Short:
    """Wires that have too few pins: what cannot be placed, with what it could use."""

    wires: tuple[Wire, ...]
    pins: tuple[Pin, ...]
    """All pins that any of these wires can have; fewer than the wires, unless periods are what clashes."""


def period_of(wire: Wire) -> int | None:
    """What the period of its timer must be: the duty's top, 0 for servo pulses, None without PWM."""
    return {Use.SERVO: 0, Use.DUTY: wire.top}.get(wire.use)


def can_carry(board: Board, pin: Pin, wire: Wire) -> bool:
    """Whether this pin alone could have this wire."""
    if wire.use not in pin.uses:
        return False
    if wire.use != Use.DUTY:
        return True
    tops = board.unit(pin.unit).tops
    return tops is not None and tops[0] <= wire.top <= tops[1]


def of_one_bridge(one: Wire, other: Wire) -> bool:
    """Whether these are the two inputs of one bridge."""
    return one.use == other.use == Use.DUTY and one.key[:-1] == other.key[:-1] and one != other


class Search:
    """The wires of one robot on one board, with the pins that are given."""

    def __init__(
        self, board: Board, wires: Sequence[Wire], given: Mapping[Wire, Pin], liked: Mapping[Wire, Pin]
    ) -> None:
        self._board = board
        self._wires = sorted(
            wires, key=lambda wire: (period_of(wire) is None, wire not in given, wire not in liked)
        )
        self._given, self._liked = given, liked
        self._before = set(liked.values())
        self._steps = 0
        self._sides = Counter(unit for unit, _ in {(pin.unit, pin.side) for pin in board.pins if pin.unit})

    def places(self) -> Places | Short:
        """A pin for every wire, or the wires that are one too many for their pins.

        Raises GaveUpError.
        """
        short = self._short({}, self._wires)
        found = self._placed({}, 0) if short is None else None
        if found is not None:
            return found
        pwm = tuple(wire for wire in self._wires if period_of(wire) is not None)
        pins = dict.fromkeys(pin for wire in pwm for pin in self._candidates(wire, {}))
        return short or Short(pwm, tuple(pins))

    def _placed(self, placed: Places, at: int) -> Places | None:
        if at == len(self._wires):
            return placed
        wire = self._wires[at]
        for pin in sorted(self._candidates(wire, placed), key=lambda pin: self._taste(wire, pin, placed)):
            self._steps += 1
            if self._steps > MOST_STEPS:
                raise GaveUpError
            further = placed | {wire: pin}
            if self._short(further, self._wires[at + 1 :]) is None:
                found = self._placed(further, at + 1)
                if found is not None or period_of(wire) is None:
                    return found
        return None

    def _short(self, placed: Places, rest: Sequence[Wire]) -> Short | None:
        """None where the rest may find its pins: each wire a pin, each PWM a side, each period a unit."""
        free = {wire: self._candidates(wire, placed) for wire in rest}
        short = _crowded(rest, free)
        if short is not None:
            return Short(*short)
        pwm = [wire for wire in rest if period_of(wire) is not None]
        sides = {(pin.unit, pin.side): pin for wire in pwm for pin in free[wire]}
        at_side = {wire: list(dict.fromkeys((pin.unit, pin.side) for pin in free[wire])) for wire in pwm}
        crowded = _crowded(pwm, at_side)
        if crowded is not None:
            return Short(crowded[0], tuple(sides[side] for side in crowded[1]))
        return None if self._periods_fit(placed, pwm) else Short(tuple(pwm), tuple(sides.values()))

    def _periods_fit(self, placed: Places, pwm: Sequence[Wire]) -> bool:
        """Whether the timers that are still idle are enough for the wires that are left.

        Those of each period want timers of their own, a bridge's two inputs a whole one.
        """
        periods = {pin.unit: period_of(wire) for wire, pin in placed.items() if period_of(wire) is not None}
        used = Counter(pin.unit for wire, pin in placed.items() if period_of(wire) is not None)
        whole = self._bridges(pwm)
        wanted = Counter(period_of(wire) for wire in pwm if wire.key[:-1] not in whole)
        for unit, period in periods.items():
            wanted[period] -= self._sides[unit] - used[unit]
        most = max(self._sides.values(), default=1)
        idle = len(self._sides) - len(periods)
        return len(whole) + sum(-(-count // most) for count in wanted.values() if count > 0) <= idle

    def _bridges(self, pwm: Sequence[Wire]) -> set[KeyPath]:
        """Outputs of which both inputs are among these: one timer has to change them together."""
        inputs = Counter(wire.key[:-1] for wire in pwm if wire.use == Use.DUTY)
        return {output for output, number in inputs.items() if number > 1}

    def _candidates(self, wire: Wire, placed: Places) -> list[Pin]:
        """Pins that this wire can still have."""
        pins = (self._given[wire],) if wire in self._given else self._board.pins
        taken = set(placed.values())
        return [pin for pin in pins if pin not in taken and self._agrees(wire, pin, placed)]

    def _agrees(self, wire: Wire, pin: Pin, placed: Places) -> bool:
        if not can_carry(self._board, pin, wire):
            return False
        period = period_of(wire)
        return period is None or not any(
            (period_of(there) != period or other.side == pin.side)
            if other.unit == pin.unit
            else of_one_bridge(wire, there)
            for there, other in placed.items()
            if period_of(there) is not None
        )

    def _taste(self, wire: Wire, pin: Pin, placed: Places) -> tuple[bool, bool, int, int, bool, int]:
        """Less is liked better.

        Where it was before, where nothing was before, what the board names first, pins of little other use,
        a direction beside its duty, then the order of the board.
        """
        first = self._board.first.get(wire.use, ())
        rank = first.index(pin.name) if pin.name in first else len(first)
        beside = next(
            (
                other.number + 1
                for there, other in placed.items()
                if wire.key[-1] == "direction_pin" and there.key == (*wire.key[:-1], "pin")
            ),
            pin.number,
        )
        return (
            self._liked.get(wire) != pin,
            pin in self._before,
            rank,
            len(pin.uses),
            pin.number != beside,
            self._board.pins.index(pin),
        )


def _crowded(
    wires: Sequence[Wire], free: Mapping[Wire, Sequence[Place]]
) -> tuple[tuple[Wire, ...], tuple[Place, ...]] | None:
    """None where each wire can have a place of its own; else wires with too few (Hall, 1935), or none."""
    holder: dict[Place, Wire] = {}
    for wire in wires:
        seen: dict[Place, None] = {}
        if not _augmented(wire, free, holder, seen):
            alike = [each for each in wires if bool(free[each]) == bool(seen)]
            return tuple(each for each in alike if set(free[each]) <= set(seen)), tuple(seen)
    return None


def _augmented(
    wire: Wire,
    free: Mapping[Wire, Sequence[Place]],
    holder: dict[Place, Wire],
    seen: dict[Place, None],
) -> bool:
    """Whether this wire gets a place, others moving over where they must. `seen` gets all asked for."""
    for place in free[wire]:
        if place in seen:
            continue
        seen[place] = None
        if place not in holder or _augmented(holder[place], free, holder, seen):
            holder[place] = wire
            return True
    return False
