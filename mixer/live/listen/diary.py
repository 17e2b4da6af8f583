"""What is told of a running robot as it runs: events, broken rules, the way it has come. All are sinks."""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mixer.core.plan import Plan
from mixer.laws.rules import Rule, rules_of
from mixer.live.judge.monitored import rules_in
from mixer.live.listen.changes import Observer
from mixer.live.listen.events import EventLog
from mixer.live.views.status import RuleView
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Stretch

TRAIL_POINTS = 400
TRAIL_STEP_M = 0.02
RESTARTS_APART_S = 0.5
"""Restarts that follow each other sooner are one thing that goes on."""
RULE_SHOWN_S = 2.0
"""How long a rule that was broken stays on show, and how long it must hold before it is told anew."""


@dataclass(slots=True)
class _Broken:
    words: str
    last_tick: int
    count: int


class RuleTally:
    """Which rules have been broken, when last and how often."""

    def __init__(self) -> None:
        self._broken: dict[str, _Broken] = {}

    def take(self, broken: Sequence[Rule], tick: int, quiet_ticks: int) -> Sequence[str]:
        """One tick's findings; words of the rules that are broken now after a time of peace."""
        fresh = []
        for rule in broken:
            entry = self._broken.setdefault(rule.key, _Broken(rule.words, -quiet_ticks, 0))
            if tick - entry.last_tick >= quiet_ticks:
                fresh.append(rule.words)
            entry.last_tick, entry.count = tick, entry.count + 1
        return fresh

    def views(self, tick: int, shown_ticks: int) -> tuple[RuleView, ...]:
        """Those to be shown after tick number `tick`."""
        return tuple(
            RuleView(key, entry.words, entry.last_tick == tick, entry.count)
            for key, entry in self._broken.items()
            if tick - entry.last_tick < shown_ticks
        )


class _Restarts:
    """Tells that a board starts anew; while it does so again and again, one line says how often."""

    def __init__(self, events: EventLog) -> None:
        self._events = events
        self._line, self._count, self._last_s = -1, 0, -RESTARTS_APART_S

    def take(self, tick: int, tick_s: float, *, late: bool) -> None:
        """It did so before a tick: by a reset, or since the tick came late."""
        words = "a tick came late: the mix starts anew" if late else "the board starts anew"
        self._count = self._count + 1 if self._is_recent(tick * tick_s) else 1
        self._last_s = tick * tick_s
        said = words if self._count == 1 else f"{words}, {self._count} times"
        if self._count > 2 and self._events.newest(1)[0].number == self._line:
            self._events.amend(said)
        else:
            self._line = self._events.count
            self._events.add(self._last_s, "fault", said, "warn")

    def go_on(self, time_s: float) -> bool:
        """Whether it has just done so more than once: what the mix says in between is not told."""
        return self._count > 1 and self._is_recent(time_s)

    def _is_recent(self, time_s: float) -> bool:
        return 0 <= time_s - self._last_s < RESTARTS_APART_S


class Diary:
    """Tells an event log what happens to one robot."""

    def __init__(self, plan: Plan, signals: Sequence[int], events: EventLog) -> None:
        self.events, self.rules = events, RuleTally()
        self._told_faults: tuple[str, ...] = ()
        self.watch(plan, signals)

    def watch(self, plan: Plan, signals: Sequence[int]) -> None:
        """The robot's signals have changed by other means than a tick: a jump, another plan."""
        self._observer, self._restarts = Observer(plan, signals), _Restarts(self.events)
        self._rules = rules_of(plan)
        self._tick_s = plan.tick_ms / 1000
        self._quiet_ticks = round(RULE_SHOWN_S / self._tick_s)

    def add(self, stretch: Stretch) -> None:
        """Tick by tick, in the order in which things happened."""
        masks = [0] * len(stretch.inputs) if stretch.broken is None else stretch.broken.tolist()
        for number, (signals, mask) in enumerate(zip(stretch.signals.tolist(), masks, strict=True)):
            tick = stretch.first_tick + number
            if number in stretch.restarts:
                self._restarts.take(tick, self._tick_s, late=number in stretch.late)
            if self._restarts.go_on(tick * self._tick_s):
                self._observer.restart(signals)
            for event in self._observer.look(signals):
                self.events.add(tick * self._tick_s, event.kind, event.words, event.level)
            if mask:
                for words in self.rules.take(rules_in(mask, self._rules), tick, self._quiet_ticks):
                    self.events.add(tick * self._tick_s, "rule", f"broken: {words}", "bad")

    def rule_views(self, tick: int) -> tuple[RuleView, ...]:
        """The broken rules to be shown after tick number `tick`."""
        return self.rules.views(tick, self._quiet_ticks)

    def tell_faults(self, active: Mapping[str, str], time_s: float) -> None:
        """What has been broken or mended since the last time; key -> words of all that is broken."""
        for key, words in active.items():
            if key not in self._told_faults:
                self.events.add(time_s, "fault", f"injected: {words}", "warn")
        for key in self._told_faults:
            if key not in active:
                self.events.add(time_s, "fault", f"mended: {key}")
        self._told_faults = tuple(active)


class Trail:
    """The way the robot has come, a point every `TRAIL_STEP_M`."""

    def __init__(self, robot: PhysicalRobot | None) -> None:
        self.points: deque[tuple[float, float]] = deque(maxlen=TRAIL_POINTS)
        self.follow(robot)

    def follow(self, robot: PhysicalRobot | None) -> None:
        """Another robot, or none that moves."""
        self._places = None
        if robot is not None:
            columns = plant_columns(robot)
            self._places = columns.index("x"), columns.index("y")

    def add(self, stretch: Stretch) -> None:
        """The end of a stretch."""
        if self._places is None or stretch.plant is None or not len(stretch.plant):
            return
        x, y = (float(stretch.plant[-1, place]) for place in self._places)
        points = self.points
        if not points or abs(x - points[-1][0]) + abs(y - points[-1][1]) >= TRAIL_STEP_M:
            points.append((x, y))
