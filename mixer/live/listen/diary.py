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


class Diary:
    """Tells an event log what happens to one robot."""

    def __init__(self, plan: Plan, signals: Sequence[int], events: EventLog) -> None:
        self.events, self.rules = events, RuleTally()
        self._told_faults: tuple[str, ...] = ()
        self.watch(plan, signals)

    def watch(self, plan: Plan, signals: Sequence[int]) -> None:
        """The robot's signals have changed by other means than a tick: a jump, another plan."""
        self._observer = Observer(plan, signals)
        self._rules = rules_of(plan)
        self._tick_s = plan.tick_ms / 1000
        self._quiet_ticks = round(RULE_SHOWN_S / self._tick_s)

    def add(self, stretch: Stretch) -> None:
        """Tick by tick, in the order in which things happened."""
        masks = [0] * len(stretch.inputs) if stretch.broken is None else stretch.broken.tolist()
        for number, (signals, mask) in enumerate(zip(stretch.signals.tolist(), masks, strict=True)):
            tick = stretch.first_tick + number
            if number in stretch.restarts:
                self.events.add(tick * self._tick_s, "fault", "the board starts anew", "warn")
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
