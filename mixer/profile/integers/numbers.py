"""Every integer of a plan with its unit and the real value it stands for: `check --numbers`.

Units belong to field names, which mean one thing each in `mixer.core.plan`.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, fields, is_dataclass
from enum import IntEnum

from mixer.core.ops import ONE
from mixer.core.plan import Plan
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
_COMMANDS = ("band", "expo", "rate", "trim", "gain", "limit", "breakaway", "weights", "neutral_within")
_TICKS = ("release_ticks", "settle_ticks", "pause_ticks", "both_ticks", "lost_ticks", "hold_ticks")
_PULSES = (
    "good_low_us",
    "good_high_us",
    "rest_us",
    "centre_us",
    "low_span_us",
    "high_span_us",
    "edges_us",
    "hysteresis_us",
)
_POSITIONS = ("position", "arm_position")
_REFERENCES = {
    "channel": "channels",
    "chooser": "switches",
    "switch": "switches",
    "arm_switch": "switches",
    "mixed_switches": "switches",
    "contact": "contacts",
    "out_stop": "contacts",
    "in_stop": "contacts",
    "output": "outputs",
}


def numbers(plan: Plan) -> list[NumberRow]:
    """One row for each integer of the plan, in its order."""
    return [_row(plan, *found) for found in _walk("", plan, plan)]


def _walk(prefix: str, thing: object, plan: Plan) -> Iterator[tuple[str, str, int]]:
    for field in fields(thing):  # type: ignore[arg-type]
        value = getattr(thing, field.name)
        path = f"{prefix}{field.name}"
        if is_dataclass(value):
            yield from _walk(f"{path}.", value, plan)
        elif isinstance(value, int):
            yield path, field.name, value
        elif isinstance(value, tuple):
            yield from _items(prefix, field.name, value, plan)


def _items(prefix: str, name: str, items: tuple[object, ...], plan: Plan) -> Iterator[tuple[str, str, int]]:
    for number, item in enumerate(items):
        if is_dataclass(item):
            label = getattr(item, "name", number)
            yield from _walk(f"{prefix}{_SECTIONS[name]}.{label}.", item, plan)
        elif isinstance(item, int):
            label = plan.sources[number] if name == "weights" else number
            yield f"{prefix}{name}.{label}", name, item


def _row(plan: Plan, name: str, field: str, value: int) -> NumberRow:
    unit, real = _meaning(plan, name, field)(value)
    return NumberRow(name, int(value), unit, real)


def _meaning(plan: Plan, name: str, field: str) -> Callable[[int], tuple[str, str]]:
    tick = plan.tick_ms
    meanings: tuple[tuple[Collection[str], Callable[[int], tuple[str, str]]], ...] = (
        ({*_REFERENCES, "yielding", "outputs"}, lambda value: ("index", _name_at(plan, field, value))),
        (_POSITIONS, lambda value: ("index", _position_at(plan, field, value))),
        (_TICKS, lambda value: ("ticks", f"{value * tick} ms")),
        (_PULSES, lambda value: ("µs", f"{value} µs")),
        (("low_gain", "high_gain"), lambda value: ("Q14 per µs", _full_in(value))),
        (("up_step", "down_step"), lambda value: ("Q14 per tick", _to_full(value, tick))),
        (("travel_limit",), lambda value: ("Q14 ticks", _at_full(value, tick))),
        (("rest", "low_span", "high_span"), lambda value: _on_wire(plan, name, value)),
        (_COMMANDS, lambda value: ("Q14", f"{value / ONE:.5g}")),
        (("tick_ms",), lambda value: ("ms", f"{value} ms")),
        (("closed_reads",), lambda value: ("level", "high" if value else "low")),
    )
    return next((meaning for names, meaning in meanings if field in names), _plain)


def _full_in(gain: int) -> str:
    return f"full in {ONE * ONE / gain:.6g} µs" if gain else "one-sided"


def _to_full(step: int, tick: int) -> str:
    return f"{step_ms(step, tick)} ms to full" if step < ONE else "at once"


def _at_full(limit: int, tick: int) -> str:
    return f"{limit / ONE * tick:.6g} ms at full" if limit else "not watched"


def _plain(value: int) -> tuple[str, str]:
    if isinstance(value, IntEnum):
        return "choice", value.name.lower()
    if isinstance(value, bool):
        return "flag", "yes" if value else "no"
    return "", str(value)


def _on_wire(plan: Plan, name: str, value: int) -> tuple[str, str]:
    output = next(item for item in plan.outputs if name.startswith(f"output.{item.name}."))
    if output.wire.name == "PULSE":
        return "µs", f"{value} µs"
    top = max(output.low_span, output.high_span)
    return "count", f"{value} of {top}"


def _name_at(plan: Plan, field: str, index: int) -> str:
    if index < 0:
        return "none"
    if field == "yielding":
        return plan.sources[index]
    things = plan.outputs if field == "outputs" else getattr(plan, _REFERENCES[field])
    return str(things[index].name)


def _position_at(plan: Plan, field: str, position: int) -> str:
    of_flip = -1 if plan.flip is None else plan.flip.switch
    switch = of_flip if field == "position" else plan.guard.arm_switch
    return plan.switches[switch].position_names[position] if switch >= 0 else "none"
