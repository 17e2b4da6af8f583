"""Which values of a profile can be turned while the robot drives, and what each of them is.

Label, unit, range and help come from the schema itself: the field's type gives the range, its docstring
the help, its name the unit. Values that change what the robot *is* (names, wiring, units of measure,
physical data) are not among them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from mixer.profile.edit.document import Scalar
from mixer.profile.schema.base import Section
from mixer.profile.schema.outputs import Output, Weight
from mixer.profile.schema.root import Robot
from mixer.profile.schema.words import told, unit_of

_TURNED: Mapping[str, tuple[str, ...]] = {
    "stick": ("trim", "low_us", "centre_us", "high_us", "reverse"),
    "switch": ("hysteresis_us",),
    "shape": ("deadband", "expo", "rate"),
    "output": (
        "gain", "limit", "breakaway", "slew_up_ms", "slew_down_ms", "reversal_pause_ms", "reverse",
        "low_us", "centre_us", "high_us", "at_zero",
    ),
    "group": ("over_range",),
    "contact": ("debounce_ms",),
    "actuator": ("full_travel_ms", "travel_margin", "both_closed_ms"),
    "flip": ("settle_ms",),
    "guard": ("lost_after_ms", "stop_within_ms", "stop", "arm_hold_ms", "neutral_within", "after_loss"),
}  # fmt: skip
_WIRE_ONLY = {"low_us": "pulse", "centre_us": "pulse", "high_us": "pulse", "at_zero": "duty"}
"""Keys of an output that mean something for one kind of wire only."""
_LONGEST_MS = 2000.0
"""How far a time's slider reaches; more may be typed."""


@dataclass(frozen=True, slots=True)
class Knob:
    """One value that can be turned."""

    key: str
    """Dotted: ``output.left_front.mix.throttle``."""
    group: str
    """The section it belongs to: ``output.left_front``."""
    label: str
    """``mix throttle``, ``slew up``."""
    kind: str
    """``number``, ``whole`` (an integer), ``flag`` or ``choice``."""
    unit: str
    """``ms``, ``µs`` or empty for a share of full."""
    low: float
    """Lowest and highest value the profile may hold (a bound that is itself excluded lies a step off)."""
    high: float
    step: float
    """One press of a key."""
    reach: float
    """Where a slider ends, at most `high`."""
    choices: tuple[str, ...]
    default: Scalar | None
    """What holds when the profile says nothing; None where that means "none"."""
    help: str

    @property
    def path(self) -> tuple[str, ...]:
        """The key taken apart."""
        return tuple(self.key.split("."))


def knobs_of(robot: Robot) -> tuple[Knob, ...]:
    """Every value of this robot that can be turned, section by section in the order of the file."""
    return tuple(_knobs(robot))


def knob_value(robot: Robot, knob: Knob) -> Scalar | None:
    """What a checked robot holds there, defaults included. A stick that is not mixed has weight 0."""
    inner: Any = robot
    for key in knob.path:
        if isinstance(inner, Mapping):
            inner = inner.get(key, 0.0 if len(knob.path) == 4 else None)
        else:
            inner = getattr(inner, key)
    value: Scalar | None = inner
    return value


def _knobs(robot: Robot) -> Iterator[Knob]:
    for section, keys in _TURNED.items():
        held = getattr(robot, section)
        if isinstance(held, Mapping):
            for name, thing in held.items():
                if section == "output":
                    yield from _weights(robot, name, thing)
                yield from _of_section(f"{section}.{name}", thing, keys)
        elif held is not None:
            yield from _of_section(section, held, keys)


def _of_section(group: str, thing: Section, keys: tuple[str, ...]) -> Iterator[Knob]:
    kind = type(thing)
    for key in keys:
        if key in _WIRE_ONLY and group.startswith("output.") and getattr(thing, "wire") != _WIRE_ONLY[key]:  # noqa: B009
            continue
        plain = key == "over_range" and getattr(thing, "yields", None) is None
        yield Knob(f"{group}.{key}", group, *_about(kind, key, without="yield" if plain else ""))


def _weights(robot: Robot, name: str, output: Any) -> Iterator[Knob]:  # noqa: ANN401
    """One for each source it has, then for each stick that some other output has."""
    mixed = list(output.mix)
    others = [
        source
        for other in robot.output.values()
        for source in other.mix
        if source in robot.stick and source not in mixed
    ]
    low, high = _bounds_of_weights()
    for source in (*mixed, *dict.fromkeys(others)):
        yield Knob(
            f"output.{name}.mix.{source}", f"output.{name}", f"mix {source}", "number", "", low, high,
            0.01, high, (), 0.0, str(told(Output.model_fields["mix"].description)),
        )  # fmt: skip


@cache
def _bounds_of_weights() -> tuple[float, float]:
    return _bounds(next(item for item in get_args(Weight) if isinstance(item, FieldInfo)).metadata)


@cache
def _about(section: type[Section], key: str, without: str) -> tuple[Any, ...]:
    """What the schema says of a key: a knob's fields from its label on. Asked anew after every edit."""
    field = section.model_fields[key]
    kind, choices, metadata = _type_of(field)
    unit = unit_of(key)
    step = 1.0 if kind == "whole" else 0.05 if key == "travel_margin" else 5.0 if unit == "ms" else 0.01
    low, high = _bounds(metadata, step)
    reach = min(high, _LONGEST_MS) if unit == "ms" else high
    label = key.removesuffix(f"_{key.rpartition('_')[2]}") if unit else key
    default = None if field.is_required() else field.default
    return (
        label.replace("_", " "), kind, unit, low, high, step, reach,
        tuple(choice for choice in choices if choice != without), default,
        str(told(field.description)),
    )  # fmt: skip


def _type_of(field: FieldInfo) -> tuple[str, tuple[str, ...], list[Any]]:
    """Kind, choices and bounds of a field, optional ones as what they hold when set."""
    kind, metadata = field.annotation, list(field.metadata)
    while type(None) in get_args(kind) or get_origin(kind) is not None:
        if get_origin(kind) is Literal:
            return "choice", get_args(kind), metadata
        inner = get_args(kind)
        metadata += [bound for item in inner if isinstance(item, FieldInfo) for bound in item.metadata]
        kind = inner[0]
    return "flag" if kind is bool else "whole" if kind is int else "number", (), metadata


def _bounds(metadata: list[Any], step: float = 0.01) -> tuple[float, float]:
    """The lowest and highest value; a bound that is itself excluded lies one step off."""
    low, high = 0.0, 1.0
    for bound in metadata:
        low = getattr(bound, "ge", bound.gt + step if hasattr(bound, "gt") else low)
        high = getattr(bound, "le", bound.lt - step if hasattr(bound, "lt") else high)
    return float(low), float(high)
