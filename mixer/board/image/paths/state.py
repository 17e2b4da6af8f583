"""What is known of a machine at one place of its program, after any of the paths that lead there."""

from collections.abc import Sequence
from typing import NamedTuple, Self, TypeVar

from mixer.board.image.paths.intervals import Range, full, hull, meet, placed, signed, unsigned
from mixer.board.image.paths.values import OFFSET, Values

STACK = "stack"
"""The operation of the one value that stands for the stack's address at the beginning."""
OBJECT = "object"
"""That of the addresses that the routine was given."""


LOST_STACK = "the stack pointer is no longer known there (an array of unknown size on the stack?)"
"""Why there is no bound where nobody can say how deep the stack is."""


class Shape(NamedTuple):
    """How wide a machine's slots and cells are, in bits."""

    slots: tuple[int, ...]
    cell: int
    room: Range | None = None
    """The first and last address of the memory that is the stack's alone, where that is known."""


Cell = tuple[int, int]
"""A place in memory: the value of an object's address, and how far behind it."""


class State:
    """Registers and memory as values, the ranges learnt of them, and the most cycles spent so far."""

    __slots__ = ("cycles", "known", "memory", "saved", "shape", "slots", "values")

    def __init__(self, values: Values, slots: list[int], shape: Shape) -> None:
        self.values = values
        self.slots = slots
        """Registers, then flags, each flag a value of one bit."""
        self.shape = shape
        self.memory: dict[Cell, int] = {}
        """What was stored or loaded and not overwritten since."""
        self.saved: set[Cell] = set()
        """Cells of the stack that the program pushed: no object of its own, so no store means them."""
        self.known: dict[int, Range] = {}
        """Ranges narrower than a value's bits say."""
        self.cycles = 0

    def copy(self) -> Self:
        """One more of it, to go another way."""
        made = type(self)(self.values, self.slots.copy(), self.shape)
        made.memory = self.memory.copy()
        made.known = self.known.copy()
        made.saved = self.saved.copy()
        made.cycles = self.cycles
        return made

    def reach(self, value: int) -> Range:
        """The range of a value, signed or unsigned as it is narrower."""
        if value < 0:
            return ~value, ~value
        found, node = self.known.get(value), self.values.nodes[value]
        if node.op != OFFSET:
            return found or full(node.bits)
        base, offset = node.args
        low, high = self.reach(base)
        made = placed(low + ~offset, high + ~offset, node.bits)
        return made if found is None else meet(found, made, node.bits) or found

    def unsigned(self, value: int, bits: int) -> Range:
        """The range, read without a sign."""
        return unsigned(self.reach(value), bits)

    def signed(self, value: int, bits: int) -> Range:
        """The range, read as two's complement."""
        return signed(self.reach(value), bits)

    def learn(self, value: int, reach: Range, bits: int) -> bool:
        """A value lies in this range. False where that contradicts what is known: no path comes here."""
        both = meet(self.reach(value), reach, bits)
        if both is None:
            return False
        if value < 0:
            return True
        self.known[value] = both
        node = self.values.nodes[value]
        if node.op == OFFSET:
            base, offset = node.args
            return self.learn(base, placed(both[0] - ~offset, both[1] - ~offset, bits), bits)
        return True

    def ranges(self) -> list[object]:
        """What is known of registers, flags and memory, ranges and distances: equal ones tell the same."""
        cells = [(cell, *self._told(value)) for cell, value in sorted(self.memory.items())]
        return [*map(self._told, self.slots), *cells]

    def _told(self, value: int) -> tuple[Range, int]:
        """Its range, and how far it is from the value that it was made of."""
        return self.reach(value), self.values.based(value)[1]

    def is_own(self, base: int) -> bool:
        """Whether a base is the stack or an object that was given: what is there changes by stores only."""
        return self.values.op(base) in (STACK, OBJECT)

    def store(self, cell: Cell, value: int, offset: int) -> None:
        """Write a cell, so far behind its base. Stores are taken to stay in the object that they mean.

        Objects that were given may be the same, so a store into one makes all of them forgotten; an address
        that is no object's any more may be anyone's, but for what the program pushed, and for the stack's
        where its range lies outside of that.
        """
        base, _ = cell
        kind = self.values.op(base)
        if kind != STACK:
            for other in list(self.memory):
                if other[0] != base and (
                    self.values.op(other[0]) != STACK or self._may_be_stack((base, offset), other)
                ):
                    del self.memory[other]
        if self.is_own(base):
            self.memory[cell] = value

    def _may_be_stack(self, stored: Cell, cell: Cell) -> bool:
        base, offset = stored
        if base < 0 or self.values.op(base) == OBJECT or cell in self.saved:
            return False
        room, bits = self.shape.room, self.values.bits(base)
        if room is None:
            return True
        low, high = self.reach(base)
        low, high = unsigned(placed(low + offset, high + offset, bits), bits)
        return low <= room[1] and high >= room[0]


S = TypeVar("S", bound=State)


def fewest(states: Sequence[S], most: int) -> list[S]:
    """At most so many states for all of them: those that differ least in their constants become one.

    Constants that differ are what a later branch may ask: flags kept in a register, a counter, a phase.
    """
    kept: list[S] = []
    for state in sorted(states, key=lambda state: -state.cycles):
        distances = [_distance(state, other) for other in kept]
        nearest = min(range(len(kept)), key=distances.__getitem__, default=-1)
        if nearest >= 0 and (not distances[nearest] or len(kept) >= most):
            kept[nearest] = _joined(kept[nearest], state)
        else:
            kept.append(state)
    return kept


def _distance(one: State, other: State) -> int:
    """How many slots and cells surely differ."""
    pairs = zip(one.slots, other.slots, one.shape.slots, strict=True)
    far = sum(mine != its and _disjoint(one, other, (mine, its), bits) for mine, its, bits in pairs)
    memory, bits = other.memory, one.shape.cell
    for cell, value in one.memory.items():
        its = memory.get(cell, value)
        far += its != value and _disjoint(one, other, (value, its), bits)
    return far


def _disjoint(one: State, other: State, pair: tuple[int, int], bits: int) -> bool:
    mine, its = pair
    return meet(one.reach(mine), other.reach(its), bits) is None


def _joined(one: S, other: S) -> S:
    values = one.values
    phis: dict[tuple[int, int, int], int] = {}
    made = type(one)(values, one.slots.copy(), one.shape)
    made.cycles = max(one.cycles, other.cycles)
    made.saved = one.saved & other.saved
    _join_known(made, one, other)
    for at, (mine, its) in enumerate(zip(one.slots, other.slots, strict=True)):
        if mine != its:
            made.slots[at] = _phi(made, one, other, (mine, its, one.shape.slots[at]), phis)
    fewer, more = sorted((one.memory, other.memory), key=len)
    for cell in fewer:
        if cell in more:
            mine, its = one.memory[cell], other.memory[cell]
            bits = one.shape.cell
            made.memory[cell] = mine if mine == its else _phi(made, one, other, (mine, its, bits), phis)
    return made


def _join_known(made: State, one: State, other: State) -> None:
    fewer, more = sorted((one.known, other.known), key=len)
    for value, reach in fewer.items():
        its = more.get(value)
        if its == reach:
            made.known[value] = reach
        elif its is not None:
            bits = made.values.nodes[value].bits
            both = hull(reach, its, bits)
            if both != full(bits):
                made.known[value] = both


def _phi(
    made: State, one: State, other: State, pair: tuple[int, int, int], phis: dict[tuple[int, int, int], int]
) -> int:
    """A new value for what is this on one path and that on the other; equal pairs stay equal."""
    found = phis.get(pair)
    if found is None:
        mine, its, bits = pair
        found = phis[pair] = made.values.fresh(bits)
        reach = hull(one.reach(mine), other.reach(its), bits)
        if reach != full(bits):
            made.known[found] = reach
    return found
