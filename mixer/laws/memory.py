"""What somebody who watches a robot from outside has to remember from tick to tick.

The slots are the watcher's own: they are worked out from what goes into the ticks and what comes out,
never copied from the firmware's state. `relations.py` says how both belong together.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from mixer.core.plan import Plan
from mixer.laws.arithmetic import ONE, Value
from mixer.laws.expect import loss_ticks, stop_ticks


class Slot(NamedTuple):
    """One remembered number: its name, what it is at power-up, and the range it stays within."""

    name: str
    start: int
    low: int
    high: int


@lru_cache(maxsize=32)
def memory_slots(plan: Plan) -> tuple[Slot, ...]:
    """Everything remembered for one plan, in the order `watch` reads and writes it."""
    return tuple(_slots(plan))


def start_memory(plan: Plan) -> tuple[int, ...]:
    """What is remembered of a board that has just been powered up."""
    return tuple(slot.start for slot in memory_slots(plan))


def _slots(plan: Plan) -> Iterator[Slot]:
    yield from _of_wires(plan)
    yield from _of_guard(plan)
    yield from _of_outputs(plan)


def _of_wires(plan: Plan) -> Iterator[Slot]:
    silent, guard = loss_ticks(plan), plan.guard
    for channel in plan.channels:
        yield Slot(f"silent.{channel.name}", silent, 0, silent)
        yield Slot(f"age.{channel.name}", guard.lost_ticks, 0, guard.lost_ticks)
        yield Slot(f"pulse.{channel.name}", channel.rest_us, 1, 4000)
        if channel.median:
            yield Slot(f"newer.{channel.name}", 0, 0, 4000)
            yield Slot(f"older.{channel.name}", 0, 0, 4000)
    for switch in plan.switches:
        yield Slot(f"position.{switch.name}", 0, 0, len(switch.edges_us))
    for contact in plan.contacts:
        yield Slot(f"closed_for.{contact.name}", 0, 0, contact.release_ticks)
    if plan.flip is not None:
        yield Slot("flipped", 0, 0, 1)
        yield Slot("turning_for", 0, 0, plan.flip.settle_ticks - 1)


def _of_guard(plan: Plan) -> Iterator[Slot]:
    guard = plan.guard
    yield Slot("off_seen", 0, 0, 1)
    yield Slot("off_for", 0, 0, guard.off_ticks)
    yield Slot("ready_for", 0, 0, guard.hold_ticks)
    yield Slot("live", 0, 0, 1)
    yield Slot("woken", 0, 0, 1)
    yield Slot("been_live", 0, 0, 1)
    yield Slot("not_live_for", stop_ticks(plan), 0, stop_ticks(plan))
    yield Slot("latched", 0, 0, 1)


def _of_outputs(plan: Plan) -> Iterator[Slot]:
    for output in plan.outputs:
        yield Slot(f"command.{output.name}", 0, -ONE, ONE)
        if output.pause_ticks:
            yield Slot(f"rested_for.{output.name}", output.pause_ticks, 0, output.pause_ticks)
            yield Slot(f"last_sign.{output.name}", 0, -1, 1)
    for actuator in plan.actuators:
        yield Slot(f"both_for.{actuator.name}", 0, 0, actuator.both_ticks)
        yield Slot(f"latched.{actuator.name}", 0, 0, 1)
        if actuator.travel_limit is not None:
            yield Slot(f"way.{actuator.name}", 0, -actuator.travel_limit, actuator.travel_limit)


class Memory:
    """The remembered numbers by name: read the old ones, keep the new ones."""

    def __init__(self, plan: Plan, values: "tuple[Value, ...] | list[Value]") -> None:
        self._names = tuple(slot.name for slot in memory_slots(plan))
        self._old = dict(zip(self._names, values, strict=True))
        self._new: dict[str, Value] = {}

    def was(self, name: str) -> Value:
        """What was remembered before this tick."""
        return self._old[name]

    def keep(self, name: str, value: Value) -> Value:
        """Remember `value` for the next tick; gives it back."""
        self._new[name] = value
        return value

    def kept_now(self, name: str) -> Value:
        """What has been kept of this tick already."""
        return self._new[name]

    def kept(self) -> tuple[Value, ...]:
        """Everything to remember, in the order of `memory_slots`."""
        return tuple(self._new[name] for name in self._names)
