"""What of a tick is worth a line in the event log: found by looking at the signals before and after it."""

from collections.abc import Iterator, Sequence
from itertools import chain
from operator import itemgetter
from typing import NamedTuple

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.signals import ActuatorSignals, Signals


class Event(NamedTuple):
    """Something that happened in a tick."""

    kind: str
    level: str
    words: str


class Observer:
    """Follows one robot's signals."""

    def __init__(self, plan: Plan, signals: Sequence[int]) -> None:
        self._plan = plan
        self._layout = layout_of(plan)
        places = self._layout.places
        watched = [*places.guard, *places.flip, *chain.from_iterable(places.actuators)]
        self._get = itemgetter(*watched)
        self.restart(signals)

    def restart(self, signals: Sequence[int]) -> None:
        """Time has jumped: these signals are the new starting point."""
        self._before, self._watched = tuple(signals), self._get(signals)

    def look(self, signals: Sequence[int]) -> Sequence[Event]:
        """What has changed since the last look; usually nothing."""
        if self._get(signals) == self._watched:
            return ()
        before, after = self._layout.signals_of(self._before), self._layout.signals_of(signals)
        self.restart(signals)
        return tuple(self._told(before, after))

    def _told(self, before: Signals[int], after: Signals[int]) -> Iterator[Event]:
        if after.guard.signal < before.guard.signal:
            lost = self._plan.guard.lost_ticks
            channels = zip(self._plan.channels, after.channels, strict=True)
            names = [channel.name for channel, now in channels if now.age >= lost]
            yield Event("signal", "bad", f"no signal on {', '.join(names)}")
        elif after.guard.signal > before.guard.signal:
            yield Event("signal", "note", "signal on every channel")
        was, state = Guard(before.guard.state), Guard(after.guard.state)
        if state != was:
            bad = {Guard.FAULTED: "bad", Guard.STOPPED: "warn"}
            words = f"guard: {was.name.lower()} -> {state.name.lower()}"
            yield Event("guard", bad.get(state, "note"), words)
        if after.flip != before.flip:
            side = "upside down" if after.flip.flipped else "the right way up"
            yield Event("guard", "note", f"the robot lies {side}")
        for actuator, *told in zip(self._plan.actuators, before.actuators, after.actuators, strict=True):
            yield from _of_actuator(actuator.name, *told)


def _of_actuator(name: str, before: ActuatorSignals[int], after: ActuatorSignals[int]) -> Iterator[Event]:
    if after.fault > before.fault:
        yield Event("veto", "bad", f"{name}: both end stops are closed")
    ways = (("extending", before.high, after.high), ("retracting", before.low, after.low))
    for way, was, now in ways:
        if was and not now:
            yield Event("veto", "note", f"{name}: {way} blocked")
        elif now and not was:
            yield Event("veto", "note", f"{name}: {way} free again")
