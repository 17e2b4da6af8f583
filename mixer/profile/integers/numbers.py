"""Every integer of a plan with its unit and the real value it stands for: `check --numbers`.

What a number counts is read off its type in `mixer.core.plan`; what is absent has no row.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import IntEnum
from types import MappingProxyType
from typing import Any, get_args, get_type_hints

from mixer.core.ops import ONE
from mixer.core.plan import OutputPlan, Plan, SwitchPosition, Wire
from mixer.core.units import At, Unit
from mixer.profile.integers.quantize import step_ms


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One integer of the plan."""

    name: str
    """Where it stands: ``stick.throttle.low_gain``."""
    value: int
    unit: str
    real: str
    """The real value it stands for, with its unit; for indices the name of the thing meant."""


_SECTIONS = {
    "channels": "channel",
    "sticks": "stick",
    "switches": "switch",
    "contacts": "contact",
    "groups": "group",
    "outputs": "output",
    "actuators": "actuator",
    "shapes": "shape",
}


@dataclass(frozen=True, slots=True)
class _Found:
    """One integer where it stands."""

    plan: Plan
    owner: object
    """The part of the plan it is a field of."""
    name: str
    value: int
    counts: Unit | At | None


def numbers(plan: Plan) -> list[NumberRow]:
    """One row for each integer of the plan, in its order."""
    return [_row(found) for found in _walk("", plan, plan)]


def _walk(prefix: str, thing: Any, plan: Plan) -> Iterator[_Found]:  # noqa: ANN401 - any part of a plan
    hints = get_type_hints(type(thing), include_extras=True)
    for field in fields(thing):
        value, counts = getattr(thing, field.name), _counted(hints[field.name])
        path = f"{prefix}{field.name}"
        if is_dataclass(value):
            yield from _walk(f"{path}.", value, plan)
        elif isinstance(value, int):
            yield _Found(plan, thing, path, value, counts)
        elif isinstance(value, tuple):
            for number, item in enumerate(value):
                if is_dataclass(item):
                    label = getattr(item, "name", number)
                    yield from _walk(f"{prefix}{_SECTIONS[field.name]}.{label}.", item, plan)
                elif isinstance(item, int):
                    label = plan.sources[number] if field.name == "weights" else number
                    yield _Found(plan, thing, f"{path}.{label}", item, counts)


def _counted(hint: object) -> Unit | At | None:
    """What a field's numbers count, as the type says."""
    if isinstance(hint, Unit | At):
        return hint
    parts = (*getattr(hint, "__metadata__", ()), *get_args(hint))
    return next((found for part in parts if (found := _counted(part)) is not None), None)


def _row(found: _Found) -> NumberRow:
    if isinstance(found.counts, At):
        thing = getattr(found.plan, found.counts.things)[found.value]
        unit, real = "index", thing if isinstance(thing, str) else thing.name
    elif found.counts is None:
        unit, real = _plain(found.value)
    elif found.counts is Unit.SENT:
        unit, real = _on_wire(found)
    else:
        unit, real = found.counts.value, _REAL[found.counts](found)
    return NumberRow(found.name, int(found.value), unit, real)


def _plain(value: int) -> tuple[str, str]:
    if isinstance(value, IntEnum):
        return "choice", value.name.lower()
    if isinstance(value, bool):
        return "flag", "yes" if value else "no"
    return "", str(value)


def _on_wire(found: _Found) -> tuple[str, str]:
    assert isinstance(found.owner, OutputPlan)
    if found.owner.wire is Wire.PULSE:
        return "µs", f"{found.value} µs"
    return "count", f"{found.value} of {max(found.owner.low_span, found.owner.high_span)}"


def _position(found: _Found) -> str:
    assert isinstance(found.owner, SwitchPosition)
    return found.plan.switches[found.owner.switch].position_names[found.value]


def _to_full(found: _Found) -> str:
    return f"{step_ms(found.value, found.plan.tick_ms)} ms to full" if found.value < ONE else "at once"


_REAL: Mapping[Unit, Callable[[_Found], str]] = MappingProxyType(
    {
        Unit.LEVEL: lambda found: "high" if found.value else "low",
        Unit.POSITION: _position,
        Unit.PULSE: lambda found: f"{found.value} µs",
        Unit.MS: lambda found: f"{found.value} ms",
        Unit.WIRE: lambda found: f"number {found.value}",
        Unit.TICKS: lambda found: f"{found.value * found.plan.tick_ms} ms",
        Unit.COMMAND: lambda found: f"{found.value / ONE:.5g}",
        Unit.GAIN: lambda found: (
            f"full in {ONE * ONE / found.value:.6g} µs" if found.value else "one-sided"
        ),
        Unit.STEP: _to_full,
        Unit.WAY: lambda found: f"{found.value / ONE * found.plan.tick_ms:.6g} ms at full",
    }
)
