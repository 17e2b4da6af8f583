"""Comparisons as values of one bit: decided where ranges say so, and what their outcome teaches."""

from mixer.board.image.paths.intervals import Range
from mixer.board.image.paths.state import State

_NOT = "negated"
NO, YES = ~0, ~1
"""The flag that is 0, and the one that is 1."""
BELOW, LESS, EQUAL = "below", "less", "equal"
"""Unsigned, signed, and either: the operations of a comparison. Its node's arguments are both numbers and
the width at which they are compared, as a constant."""


def flag(state: State, op: str, one: int, other: int, bits: int) -> int:
    """The comparison's value, a constant where the ranges decide it."""
    if one == other:
        return YES if op == EQUAL else NO
    decided = _same(state, one, other, bits) if op == EQUAL else _before(state, op, one, other, bits)
    if decided is not None:
        return YES if decided else NO
    args = (*sorted((one, other)), ~bits) if op == EQUAL else (one, other, ~bits)
    value = state.values.node(op, args, 1)
    found = state.known.get(value)
    return value if found is None else ~found[0]


def _same(state: State, one: int, other: int, bits: int) -> bool | None:
    """Whether two numbers are equal, where that is sure."""
    low, high = state.unsigned(one, bits)
    least, most = state.unsigned(other, bits)
    apart = state.values.based(one)[0] == state.values.based(other)[0]  # one base, two offsets
    if apart or high < least or most < low:
        return False
    return True if low == high == least == most else None


def _before(state: State, op: str, one: int, other: int, bits: int) -> bool | None:
    """Whether one number is less than another, where that is sure."""
    read = state.signed if op == LESS else state.unsigned
    low, high = read(one, bits)
    least, most = read(other, bits)
    return True if high < least else False if low >= most else None


def negated(state: State, value: int) -> int:
    """The flag that is set where this one is not."""
    if value < 0:
        return ~(1 - ~value)
    if state.values.op(value) == _NOT:
        return state.values.args(value)[0]
    return state.values.node(_NOT, (value,), 1)


def truth(state: State, value: int) -> bool | None:
    """What a flag is; None where it may be either."""
    if state.values.op(value) == _NOT:
        other = truth(state, state.values.args(value)[0])
        return None if other is None else not other
    low, high = state.reach(value)
    return None if low != high else bool(low)


def assume(state: State, value: int, is_set: bool) -> bool:
    """Go on where a flag is as said. False where it cannot be: no path comes here."""
    if state.values.op(value) == _NOT:
        return assume(state, state.values.args(value)[0], not is_set)
    known = truth(state, value)
    if known is not None:
        return known == is_set
    state.known[value] = (int(is_set), int(is_set))
    if state.values.op(value) not in (BELOW, LESS, EQUAL):
        return True
    one, other, bits = state.values.args(value)
    return _teach(state, state.values.op(value), (one, other, ~bits), is_set)


def _teach(state: State, op: str, compared: tuple[int, int, int], is_set: bool) -> bool:
    one, other, bits = compared
    read = state.signed if op == LESS else state.unsigned
    (low, high), (least, most) = read(one, bits), read(other, bits)
    if op == EQUAL:
        mine, its = _equal((low, high), (least, most), is_set)
    elif is_set:
        mine, its = (low, min(high, most - 1)), (max(least, low + 1), most)
    else:
        mine, its = (max(low, least), high), (least, min(most, high))
    if mine[0] > mine[1] or its[0] > its[1]:
        return False
    return state.learn(one, mine, bits) and state.learn(other, its, bits)


def _equal(one: Range, other: Range, is_set: bool) -> tuple[Range, Range]:
    """Both ranges, where the numbers are equal or are not."""
    if is_set:
        both = max(one[0], other[0]), min(one[1], other[1])
        return both, both
    return _without(one, other), _without(other, one)


def _without(reach: Range, other: Range) -> Range:
    """A range that loses an end to a constant it must not equal."""
    if other[0] != other[1]:
        return reach
    low, high = reach
    return low + (low == other[0]), high - (high == other[0])
