"""Numbers that watch over the core: every value must fit an int32, and no flag may be asked for its truth.

Fed to the core in place of ints they take the same path as the symbols of a trace, and still have a
value, so that a tick can be compared with the one on plain ints.
"""

from __future__ import annotations

from collections.abc import Iterable

LEAST = -(2**31)
MOST = 2**31 - 1


class CheckedFlag:
    """The outcome of a comparison. Has no truth of its own; `choose` and `&` `|` `^` are all it can do."""

    __slots__ = ("holds",)

    def __init__(self, holds: bool) -> None:
        self.holds = holds

    def __bool__(self) -> bool:
        raise AssertionError("a stage branched on data")

    def choose(self, if_true: Checked | int, if_false: Checked | int) -> Checked:
        """What `select` asks for; both sides are looked at, as both are always computed."""
        chosen = (number_of(if_false), number_of(if_true))
        return Checked(chosen[self.holds])

    def __and__(self, other: CheckedFlag | bool) -> CheckedFlag:
        return CheckedFlag(self.holds & truth_of(other))

    def __or__(self, other: CheckedFlag | bool) -> CheckedFlag:
        return CheckedFlag(self.holds | truth_of(other))

    def __xor__(self, other: CheckedFlag | bool) -> CheckedFlag:
        return CheckedFlag(self.holds ^ truth_of(other))

    __rand__ = __and__
    __ror__ = __or__
    __rxor__ = __xor__


class Checked:
    """An int32 with the operations the core may use, and no others."""

    __slots__ = ("number",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, number: int) -> None:
        assert LEAST <= number <= MOST, f"{number} does not fit an int32"
        self.number = number

    def __bool__(self) -> bool:
        raise AssertionError("a stage asked a value for its truth")

    def __add__(self, other: Checked | int) -> Checked:
        return Checked(self.number + number_of(other))

    def __sub__(self, other: Checked | int) -> Checked:
        return Checked(self.number - number_of(other))

    def __rsub__(self, other: Checked | int) -> Checked:
        return Checked(number_of(other) - self.number)

    def __mul__(self, other: Checked | int) -> Checked:
        return Checked(self.number * number_of(other))

    def __neg__(self) -> Checked:
        return Checked(-self.number)

    def __lt__(self, other: Checked | int) -> CheckedFlag:
        return CheckedFlag(self.number < number_of(other))

    def __le__(self, other: Checked | int) -> CheckedFlag:
        return CheckedFlag(self.number <= number_of(other))

    def __gt__(self, other: Checked | int) -> CheckedFlag:
        return CheckedFlag(self.number > number_of(other))

    def __ge__(self, other: Checked | int) -> CheckedFlag:
        return CheckedFlag(self.number >= number_of(other))

    def __eq__(self, other: object) -> CheckedFlag:  # type: ignore[override]
        return CheckedFlag(self.number == number_of(other))

    def __ne__(self, other: object) -> CheckedFlag:  # type: ignore[override]
        return CheckedFlag(self.number != number_of(other))

    __radd__ = __add__
    __rmul__ = __mul__

    def shifted_right(self, bits: int) -> Checked:
        """floor(x / 2**bits), worked out by division so as not to lean on the shift."""
        assert 0 <= bits <= 31
        return Checked(self.number // 2**bits)

    def divided(self, a: Checked | int, b: Checked | int) -> Checked:
        """floor(a / b), with the contract of `divide` checked."""
        above, below = number_of(a), number_of(b)
        assert above >= 0, f"divide({above}, {below})"
        assert below > 0, f"divide({above}, {below})"
        return Checked(above // below)


def number_of(value: object) -> int:
    """The int in a checked number or a plain one."""
    if isinstance(value, Checked):
        return value.number
    assert isinstance(value, int), f"{value!r} is neither an int nor a symbol"
    return int(value)


def truth_of(flag: object) -> bool:
    """The bool in a checked flag or a plain one."""
    if isinstance(flag, CheckedFlag):
        return flag.holds
    assert isinstance(flag, bool), f"{flag!r} is not a flag"
    return flag


def checked(numbers: Iterable[int]) -> list[Checked]:
    """Plain numbers, watched from here on."""
    return [Checked(number) for number in numbers]


def plain(numbers: Iterable[object]) -> list[int]:
    """Watched numbers back as ints."""
    return [number_of(number) for number in numbers]
