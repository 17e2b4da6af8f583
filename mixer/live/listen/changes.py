"""What of a tick is worth a line in the event log: found by looking at the signals before and after it."""

from collections.abc import Iterator, Mapping, Sequence
from operator import itemgetter
from typing import NamedTuple

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan


class Event(NamedTuple):
    """Something that happened in a tick."""

    kind: str
    level: str
    words: str


class Observer:
    """Follows one robot's signals."""

    def __init__(self, plan: Plan, signals: Sequence[int]) -> None:
        self._plan = plan
        names = layout_of(plan).signals
        watched = ["guard.state", "guard.signal", "guard.fault", "flip.flipped"]
        for actuator in plan.actuators:
            watched += [f"actuator.{actuator.name}.{field}" for field in ("low", "high", "fault")]
        self._names = watched
        self._get = itemgetter(*(names.index(name) for name in watched))
        self._index = {name: number for number, name in enumerate(names)}
        self.restart(signals)

    def restart(self, signals: Sequence[int]) -> None:
        """Time has jumped: these signals are the new starting point."""
        self._before: tuple[int, ...] = self._get(signals)

    def look(self, signals: Sequence[int]) -> Sequence[Event]:
        """What has changed since the last look; usually nothing."""
        now: tuple[int, ...] = self._get(signals)
        if now == self._before:
            return ()
        before = dict(zip(self._names, self._before, strict=True))
        after = dict(zip(self._names, now, strict=True))
        self._before = now
        return tuple(self._told(before, after, signals))

    def _told(
        self, before: Mapping[str, int], after: Mapping[str, int], signals: Sequence[int]
    ) -> Iterator[Event]:
        if after["guard.signal"] < before["guard.signal"]:
            lost = self._plan.guard.lost_ticks
            names = [
                channel.name
                for channel in self._plan.channels
                if signals[self._index[f"channel.{channel.name}.age"]] >= lost
            ]
            yield Event("signal", "bad", f"no signal on {', '.join(names)}")
        elif after["guard.signal"] > before["guard.signal"]:
            yield Event("signal", "note", "signal on every channel")
        was, state = Guard(before["guard.state"]), Guard(after["guard.state"])
        if state != was:
            bad = {Guard.FAULTED: "bad", Guard.STOPPED: "warn"}
            words = f"guard: {was.name.lower()} -> {state.name.lower()}"
            yield Event("guard", bad.get(state, "note"), words)
        if after["flip.flipped"] != before["flip.flipped"]:
            side = "upside down" if after["flip.flipped"] else "the right way up"
            yield Event("guard", "note", f"the robot lies {side}")
        for actuator in self._plan.actuators:
            yield from _of_actuator(actuator.name, before, after)


def _of_actuator(name: str, before: Mapping[str, int], after: Mapping[str, int]) -> Iterator[Event]:
    if after[f"actuator.{name}.fault"] > before[f"actuator.{name}.fault"]:
        yield Event("veto", "bad", f"{name}: both end stops are closed")
    for field, way in (("high", "extending"), ("low", "retracting")):
        was, now = before[f"actuator.{name}.{field}"] != 0, after[f"actuator.{name}.{field}"] != 0
        if was and not now:
            yield Event("veto", "note", f"{name}: {way} blocked")
        elif now and not was:
            yield Event("veto", "note", f"{name}: {way} free again")
