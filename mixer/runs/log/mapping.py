"""Binding a foreign log's columns to this robot's channels.

One binding is written ``NAME=COLUMN`` or ``NAME=COLUMN:UNIT``. NAME is ours: a channel, a contact,
``volts`` or ``t_ms``. COLUMN is the file's; it may hold colons and spaces, only a known unit behind
the last colon is taken off. Units of a channel:

    us          pulse in µs (taken when none is given)
    percent     -100 to 100 of the stick's travel
    unit        -1 to 1 of the stick's travel
    zero_one    0 to 1 over the stick's travel, 0 being the low end

and of ``t_ms``: ``ms`` (taken when none is given), ``s``, ``us``.

The three relative scales are read through the stick's own endpoints (`ends_of`), so that 100 % is its
full travel; a switch, which has none, takes the nominal 1000 to 2000 µs (common practice).
"""

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


TIME_UNITS: MappingOf[str, int] = {"s": 1_000_000, "ms": 1000, "us": 1}
"""Microseconds in one unit of the time column."""


@dataclass(frozen=True, slots=True)
class Binding:
    """One of our names, the file's column for it, and what that is measured in."""

    name: str
    column: str
    unit: str = ""
    """One of `Scale`'s values for a channel, a key of `TIME_UNITS` for the time; empty = the usual."""


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
        return Scale(bound.unit) if bound and bound.unit else Scale.US

    def time_unit_us(self) -> int:
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
    if not (name and equals and column):
        raise OptionError(
            f"map {text!r} is no binding",
            "write NAME=COLUMN or NAME=COLUMN:UNIT, such as throttle=ch3:percent",
        )
    units = list(TIME_UNITS) if name == TIME else [scale.value for scale in Scale]
    head, _, tail = column.rpartition(":")
    if head and tail.strip() in units:
        return Binding(name, head.strip(), tail.strip())
    if head and tail.strip() in {*TIME_UNITS, *(scale.value for scale in Scale)}:
        raise OptionError(
            f"map {text!r}: {name} is not measured in {tail.strip()}", f"one of {', '.join(units)}"
        )
    return Binding(name, column)


def ends_of(plan: Plan, channel: str) -> tuple[int, int, int]:
    """Low end, centre and high end in µs of the stick on a channel, or the nominal ones."""
    for stick in plan.sticks:
        if plan.channels[stick.channel].name == channel:
            centre = stick.centre_us
            return centre - stick.low_span_us, centre, centre + stick.high_span_us
    return NOMINAL


def to_us(value: Decimal, scale: Scale, ends: tuple[int, int, int]) -> Decimal:
    """A relative position as a pulse in µs, not yet rounded, beyond an end where `value` is beyond it."""
    low, centre, high = ends
    if scale is Scale.US:
        return value
    if scale is Scale.ZERO_ONE:
        return low + value * (high - low)
    share = value / 100 if scale is Scale.PERCENT else value
    span = high - centre if share >= 0 else centre - low
    return centre + share * span
