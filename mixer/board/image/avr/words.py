"""Numbers of two bytes in a pair of registers, and of more where only their order is asked.

A word is a value of 16 bits; its bytes are `low_of` and `high_of` it. `pair` is the way back: two bytes of
one word are that word again, so that an address keeps its object and its offset through any moves of its
bytes.
"""

from typing import Final

from mixer.board.image.paths.intervals import Range, full, meet, placed
from mixer.board.image.paths.state import State
from mixer.board.image.paths.values import OFFSET, Values

PAIR: Final = "pair"
_SUM, _DIFFERENCE, _LOW, _HIGH, _BYTES = "sum", "difference", "low", "high", "bytes"


class AvrState(State):
    """What is known of an AVR: of words also through their bytes, and of bytes through their words."""

    __slots__ = ()

    def reach(self, value: int) -> Range:
        """The range of a value, from itself and from what it is made of."""
        if value < 0:
            return ~value, ~value
        node = self.values.nodes[value]
        if node.op in (PAIR, _BYTES):
            low, high = node.args
            return self._composed(value, low, high, node.bits - 8)
        if node.op == _HIGH and value not in self.known:
            low, high = self.reach(node.args[0])
            return low >> 8, high >> 8
        return super().reach(value)

    def _composed(self, value: int, low: int, high: int, bits: int) -> Range:
        ends, (least, most) = self.unsigned(low, bits), self.reach(high)
        made = (least << bits) + ends[0], (most << bits) + ends[1]
        found = self.known.get(value)
        return made if found is None else meet(found, made, bits + 8) or found

    def learn(self, value: int, reach: Range, bits: int) -> bool:
        """A number lies in this range, and so what it is made of. False where that cannot be."""
        if not super().learn(value, reach, bits):
            return False
        if value < 0 or self.values.op(value) not in (PAIR, _BYTES):
            return True
        low, high = self.values.args(value)
        at = bits - 8
        both = self.known[value]
        ends = both[0] >> at, both[1] >> at
        if not self.learn(high, ends, 8):
            return False
        return ends[0] != ends[1] or self.learn(
            low, (both[0] - (ends[0] << at), both[1] - (ends[0] << at)), at
        )


def add8(values: Values, byte: int, number: int) -> int:
    """A byte plus a constant, modulo 256."""
    base, offset = values.based(byte)
    return values.at(base, offset + number, 8)


def combined8(values: Values, op: str, one: int, other: int) -> int:
    """The byte of a sum ("add") or a difference ("sub") of two bytes."""
    if other < 0:
        return add8(values, one, ~other if op == "add" else -~other)
    if op == "add":
        return add8(values, other, ~one) if one < 0 else values.node(op, tuple(sorted((one, other))), 8)
    return ~0 if one == other else values.node(op, (one, other), 8)


def low_of(values: Values, word: int) -> int:
    """Its lower byte, made once: a word that is doubled again and again is the sum of itself and itself."""
    if word < 0:
        return ~(~word & 0xFF)
    found = values.parts.get(word)
    if found is None:
        found = values.parts[word] = _low_of(values, word)
    return found


def _low_of(values: Values, word: int) -> int:
    op, args = values.op(word), values.args(word)
    if op == OFFSET:
        return add8(values, low_of(values, args[0]), ~args[1] & 0xFF)
    if op == PAIR:
        return args[0]
    if op in (_SUM, _DIFFERENCE):
        kind = "add" if op == _SUM else "sub"
        return combined8(values, kind, low_of(values, args[0]), low_of(values, args[1]))
    return values.node(_LOW, (word,), 8)


def high_of(values: Values, word: int) -> int:
    """Its upper byte."""
    if word < 0:
        return ~(~word >> 8)
    return values.args(word)[1] if values.op(word) == PAIR else values.node(_HIGH, (word,), 8)


def pair(values: Values, low: int, high: int) -> int:
    """The word of two bytes."""
    if low < 0 and high < 0:
        return ~(~high << 8 | ~low)
    if values.op(high) == _HIGH:
        (word,) = values.args(high)
        if low_of(values, word) == low:
            return word
    return values.node(PAIR, (low, high), 16)


def longer(values: Values, number: int, byte: int, bits: int) -> int:
    """A number of so many bits with one more byte on top, for comparisons."""
    if bits == 8:
        return pair(values, number, byte)
    if number < 0 and byte < 0:
        return ~(~byte << bits | ~number)
    return values.node(_BYTES, (number, byte), bits + 8)


def added(state: State, one: int, other: int) -> int:
    """The sum of two words."""
    if one < 0:
        one, other = other, one
    made = _beyond(state.values, one, ~other) if other < 0 else state.values.node(_SUM, (one, other), 16)
    (low, high), (least, most) = state.reach(one), state.reach(other)
    return _kept(state, made, placed(low + least, high + most, 16))


def subtracted(state: State, one: int, other: int) -> int:
    """The difference of two words."""
    if one == other:
        return ~0
    if other < 0:
        made = _beyond(state.values, one, -~other)
    else:
        made = state.values.node(_DIFFERENCE, (one, other), 16)
    (low, high), (least, most) = state.reach(one), state.reach(other)
    return _kept(state, made, placed(low - most, high - least, 16))


def _beyond(values: Values, word: int, number: int) -> int:
    base, offset = values.based(word)
    return values.at(base, offset + number, 16)


def _kept(state: State, word: int, ends: Range) -> int:
    if word >= 0 and ends != full(16):
        state.known[word] = meet(state.reach(word), ends, 16) or ends
    return word
