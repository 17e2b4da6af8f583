"""Names for the flat sequences that go into and come out of a tick, in their order.

`tick.py` reads and writes the values in exactly this order; the tests hold the two together.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from mixer.core.plan import Guard, Plan


@dataclass(frozen=True, slots=True)
class Layout:
    """What stands where in a plan's inputs, state and signals."""

    inputs: tuple[str, ...]
    """A pulse in µs for each channel (0 = none came), then a 0/1 reading for each contact."""
    state: tuple[str, ...]
    start: tuple[int, ...]
    """The state of a board that has just been powered up."""
    signals: tuple[str, ...]
    """Every number worth showing, ``output.left_front.wire`` among them."""

    def index(self, signal: str) -> int:
        """Where a signal stands. Raises KeyError-like ValueError for an unknown name."""
        return self.signals.index(signal)


@lru_cache(maxsize=256)
def layout_of(plan: Plan) -> Layout:
    """The plan's layout (worked out once a plan)."""
    slots = tuple(_state_slots(plan))
    return Layout(
        inputs=tuple(
            [f"channel.{channel.name}" for channel in plan.channels]
            + [f"contact.{contact.name}" for contact in plan.contacts]
        ),
        state=tuple(name for name, _ in slots),
        start=tuple(value for _, value in slots),
        signals=tuple(_signal_names(plan)),
    )


def _state_slots(plan: Plan) -> Iterator[tuple[str, int]]:
    yield from _intake_slots(plan)
    yield "guard.state", int(Guard.SEARCHING)
    yield "guard.held", 0
    yield "guard.seen_off", 0
    for actuator in plan.actuators:
        for field in ("both", "latched"):
            yield f"actuator.{actuator.name}.{field}", 0
    for output in plan.outputs:
        for field in ("command", "pause"):
            yield f"output.{output.name}.{field}", 0
    for actuator in plan.actuators:
        yield f"actuator.{actuator.name}.driven", 0


def _intake_slots(plan: Plan) -> Iterator[tuple[str, int]]:
    for channel in plan.channels:
        yield f"channel.{channel.name}.age", plan.guard.lost_ticks
        yield f"channel.{channel.name}.pulse", channel.rest_us
        if channel.median:
            yield f"channel.{channel.name}.newer", 0
            yield f"channel.{channel.name}.older", 0
    for switch in plan.switches:
        yield f"switch.{switch.name}.position", 0
    for contact in plan.contacts:
        yield f"contact.{contact.name}.remaining", 0
    if plan.flip is not None:
        yield "flip.flipped", 0
        yield "flip.waited", 0


def _signal_names(plan: Plan) -> Iterator[str]:
    for channel in plan.channels:
        yield from (f"channel.{channel.name}.{field}" for field in ("good", "age", "pulse"))
    for switch in plan.switches:
        yield f"switch.{switch.name}.position"
    for contact in plan.contacts:
        yield f"contact.{contact.name}.closed"
    yield "flip.flipped"
    for stick in plan.sticks:
        fields = ("scaled", "banded", "curved", "rated", "command")
        yield from (f"stick.{stick.name}.{field}" for field in fields)
    for output in plan.outputs:
        yield f"output.{output.name}.mixed"
    for output in plan.outputs:
        yield f"output.{output.name}.blended"
    yield from (f"guard.{field}" for field in ("signal", "neutral", "armed", "fault", "state"))
    for actuator in plan.actuators:
        yield from (f"actuator.{actuator.name}.{field}" for field in ("low", "high", "fault"))
    for output in plan.outputs:
        yield from (f"output.{output.name}.{field}" for field in ("wanted", "command", "wire"))
