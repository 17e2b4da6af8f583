"""Binding a foreign log's columns to this robot's channels.

One binding is written ``NAME=COLUMN`` or ``NAME=COLUMN:UNIT``. NAME is ours: a channel, a contact,
``volts`` or ``t_ms``. COLUMN is the file's; it may hold colons and spaces, only a known unit behind
the last colon is taken off. Units of a channel:

    us          pulse in µs (taken when none is given)
    percent     -100 to 100 of the stick's travel
    unit        -1 to 1 of the stick's travel
    zero_one    0 to 1 over the stick's travel, 0 being the low end
    LOW..HIGH   any range, such as -90..90: its ends are the stick's, its middle is the centre

and of ``t_ms``: ``ms`` (taken when none is given), ``s``, ``us``, ``ns``, and ``iso`` for dates with times
of day (ISO 8601). Times may count from any moment, 1970 included: the first row is the beginning.

``NAME==PULSE`` gives a channel that the log lacks the same pulse in µs in every row.

The relative scales are read through the stick's own endpoints (`ends_of`), so that 100 % is its
full travel; a switch, which has none, takes the nominal 1000 to 2000 µs (common practice).
"""

import re
from collections.abc import Iterable
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum

from mixer.core.plan import Plan
from mixer.errors import OptionError

TIME = "t_ms"
VOLTS = "volts"
NOMINAL = (1000, 1500, 2000)
"""Low end, centre and high end of a pulse in µs (common practice: 1 to 2 ms about 1.5 ms)."""


class Scale(Enum):
    """What a channel's column is measured in."""

    US = "us"
    PERCENT = "percent"
    UNIT = "unit"
    ZERO_ONE = "zero_one"
    RANGE = "LOW..HIGH"


_RANGES = {
    Scale.US: (Decimal(1000), Decimal(2000)),
    Scale.PERCENT: (Decimal(-100), Decimal(100)),
    Scale.UNIT: (Decimal(-1), Decimal(1)),
    Scale.ZERO_ONE: (Decimal(0), Decimal(1)),
}
ISO = "iso"
TIME_UNITS: MappingOf[str, Decimal] = {
    "s": Decimal(1_000_000), "ms": Decimal(1000), "us": Decimal(1), "ns": Decimal("0.001"),
    ISO: Decimal(1_000_000),
}  # fmt: skip
"""Microseconds in one unit of the time column."""
_RANGE = re.compile(r"([+-]?\d+(?:\.\d+)?)\.\.([+-]?\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class Binding:
    """One of our names, the file's column for it, and what that is measured in."""

    name: str
    column: str
    unit: str = ""
    """One of `Scale`'s values or a range; of the time a key of `TIME_UNITS`; empty = the usual."""
    constant: int | None = None
    """The pulse in µs that stands for a column the log lacks."""


@dataclass(frozen=True, slots=True)
class Mapping:
    """All bindings of one log. What is not bound keeps its own name."""

    bindings: tuple[Binding, ...] = ()

    def column_of(self, name: str) -> str:
        """The file's column for one of our names."""
        bound = self._find(name)
        return bound.column if bound else name

    def binds(self, name: str) -> bool:
        """Whether this name was bound by hand."""
        return self._find(name) is not None

    def scale_of(self, channel: str) -> Scale:
        """What a channel's column is measured in."""
        bound = self._find(channel)
        if bound is None or not bound.unit:
            return Scale.US
        return Scale.RANGE if _RANGE.fullmatch(bound.unit) else Scale(bound.unit)

    def range_of(self, channel: str) -> tuple[Decimal, Decimal]:
        """Low and high end of a channel's column, in its own unit; of a pulse in µs, nothing of use."""
        bound = self._find(channel)
        found = _RANGE.fullmatch(bound.unit) if bound else None
        return (Decimal(found[1]), Decimal(found[2])) if found else _RANGES[self.scale_of(channel)]

    def constant_of(self, channel: str) -> int | None:
        """The pulse in µs that stands for a column the log lacks."""
        bound = self._find(channel)
        return bound.constant if bound else None

    def time_unit_us(self) -> Decimal:
        """Microseconds in one unit of the time column."""
        bound = self._find(TIME)
        return TIME_UNITS[bound.unit or "ms"] if bound else TIME_UNITS["ms"]

    def _find(self, name: str) -> Binding | None:
        return next((binding for binding in self.bindings if binding.name == name), None)


def parse_mapping(texts: Iterable[str]) -> Mapping:
    """Bindings from their written form. Raises OptionError for one that cannot be meant."""
    bindings: list[Binding] = []
    for text in texts:
        binding = _parse_one(text)
        if any(binding.name == other.name for other in bindings):
            raise OptionError(f"map {text!r}: {binding.name} is bound twice", "bind each name once")
        bindings.append(binding)
    return Mapping(tuple(bindings))


def _parse_one(text: str) -> Binding:
    name, equals, column = (part.strip() for part in text.partition("="))
    if name and column.startswith("="):
        return _constant(text, name, column[1:].strip())
    if not (name and equals and column):
        raise OptionError(
            f"map {text!r} is no binding",
            "write NAME=COLUMN or NAME=COLUMN:UNIT, such as throttle=ch3:percent or steering=angle:-90..90",
        )
    units = list(TIME_UNITS) if name == TIME else [scale.value for scale in Scale]
    head, _, tail = column.rpartition(":")
    if head and (tail.strip() in units or (name != TIME and _RANGE.fullmatch(tail.strip()))):
        return _checked(text, Binding(name, head.strip(), tail.strip()))
    if head and tail.strip() in {*TIME_UNITS, *(scale.value for scale in Scale)}:
        raise OptionError(
            f"map {text!r}: {name} is not measured in {tail.strip()}", f"one of {', '.join(units)}"
        )
    return Binding(name, column)


def _checked(text: str, binding: Binding) -> Binding:
    found = _RANGE.fullmatch(binding.unit)
    if found and Decimal(found[1]) == Decimal(found[2]):
        raise OptionError(f"map {text!r}: both ends of the range are {found[1]}", "such as -90..90")
    return binding


def _constant(text: str, name: str, pulse: str) -> Binding:
    if name == TIME or not pulse.isdecimal() or not 0 < int(pulse[:6]) <= 4000:
        raise OptionError(
            f"map {text!r} is no constant", "write NAME==PULSE for a channel, in µs, such as arm==2000"
        )
    return Binding(name, "", constant=int(pulse))


def ends_of(plan: Plan, channel: str) -> tuple[int, int, int]:
    """Low end, centre and high end in µs of the stick on a channel, or the nominal ones."""
    for stick in plan.sticks:
        if plan.channels[stick.channel].name == channel:
            centre = stick.centre_us
            return centre - stick.low_span_us, centre, centre + stick.high_span_us
    return NOMINAL


def share_of(value: Decimal, reach: tuple[Decimal, Decimal]) -> Decimal:
    """Where a value stands in its column's range: -1 at the low end, 0 in the middle, 1 at the high end."""
    low, high = reach
    return (2 * value - low - high) / (high - low)


def to_us(
    value: Decimal, scale: Scale, ends: tuple[int, int, int], reach: tuple[Decimal, Decimal]
) -> Decimal:
    """A relative position as a pulse in µs, not yet rounded, beyond an end where `value` is beyond it."""
    low, centre, high = ends
    if scale is Scale.US:
        return value
    if scale is Scale.ZERO_ONE:
        return low + value * (high - low)
    share = share_of(value, reach)
    span = high - centre if share >= 0 else centre - low
    return centre + share * span
