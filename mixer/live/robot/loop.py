"""One tick of the bench: source -> faults -> firmware and body -> whoever watches.

source.inputs ──► FaultBoard.apply ──► Machine.step ──► recorder, rules, events, trail
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from mixer.live.judge.monitored import LiveBoard
from mixer.live.picture.snapshot import RuleView
from mixer.live.robot.changes import Observer
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.events import EventLog
from mixer.live.robot.machine import Machine
from mixer.live.robot.recorder import Recorder

TRAIL_POINTS = 400
TRAIL_STEP_M = 0.02
RULE_SHOWN_S = 2.0
"""How long a rule that was broken stays on show, and how long it must hold before it is told anew."""


class Source(Protocol):
    """Where a tick's inputs come from."""

    @property
    def mode(self) -> str:
        """``hand``, ``replay``, ``link`` or ``pad``."""
        ...

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """Pulses in µs (0 = none came in this tick), then contact levels.

        `readings` is what the robot's own movement presses; a source that knows better gives its own.
        """
        ...


@dataclass(slots=True)
class _Broken:
    words: str
    last_tick: int
    count: int


class RuleTally:
    """Which rules have been broken, when last and how often."""

    def __init__(self) -> None:
        self._broken: dict[str, _Broken] = {}

    def take(self, board: LiveBoard, tick: int, quiet_ticks: int) -> Sequence[str]:
        """One tick's findings; words of the rules that are broken now after a time of peace."""
        fresh = []
        for rule in board.broken:
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


class Loop:
    """Runs ticks and tells what happened in them."""

    def __init__(self, machine: Machine, source: Source, faults: FaultBoard, events: EventLog) -> None:
        self.machine, self.source, self.faults, self.events = machine, source, faults, events
        self.recorder = Recorder()
        self.tick = 0
        """Ticks since the session began."""
        self.time_s = 0.0
        self.rules = RuleTally()
        self.trail: deque[tuple[float, float]] = deque(maxlen=TRAIL_POINTS)
        self._told_faults: tuple[str, ...] = ()
        self.watch_anew()

    def watch_anew(self) -> None:
        """The robot's signals have changed by other means than a tick: a jump, another plan."""
        self._observer = Observer(self.machine.plan, self.machine.signals)

    def run(self, ticks: int) -> None:
        """Run ticks."""
        self._tell_faults()
        for _ in range(ticks):
            self._one()
        self._leave_trail()
        if self.recorder.problem:
            self.events.add(self.time_s, "session", self.recorder.problem, "bad")
            self.recorder.problem = ""

    def _one(self) -> None:
        machine = self.machine
        inputs = self.source.inputs(self.tick, machine.read_contacts())
        hit = self.faults.apply(self.tick, inputs, machine.commands())
        if hit.resets:
            machine.board.power_up()
            self.events.add(self.time_s, "fault", "the board starts anew", "warn")
        effort, reach = self.faults.effort(), self.faults.reach()
        if hit.misses:
            machine.coast(effort, reach)
        else:
            machine.step(hit.inputs, effort, reach)
            self._judge()
        self._record(hit.inputs, missed=hit.misses)
        self.tick += 1
        self.time_s = self.tick * machine.plan.tick_ms / 1000

    def _judge(self) -> None:
        for event in self._observer.look(self.machine.signals):
            self.events.add(self.time_s, event.kind, event.words, event.level)
        board = self.machine.board
        if board.broken:
            quiet = round(RULE_SHOWN_S * 1000 / board.plan.tick_ms)
            for words in self.rules.take(board, self.tick, quiet):
                self.events.add(self.time_s, "rule", f"broken: {words}", "bad")

    def _record(self, inputs: Sequence[int], *, missed: bool) -> None:
        if self.recorder.path is None:
            return
        plant = self.machine.body.plant
        if missed:
            count = len(self.machine.plan.channels)
            inputs = [0] * count + list(inputs[count:])
        self.recorder.take(inputs, None if plant is None else plant.value("bus_v"))

    def _tell_faults(self) -> None:
        active, told = self.faults.active, self._told_faults
        if active == told:
            return
        for key in active:
            if key not in told:
                self.events.add(self.time_s, "fault", f"injected: {self.faults.words(key)}", "warn")
        for key in told:
            if key not in active:
                self.events.add(self.time_s, "fault", f"mended: {key}")
        self._told_faults = active

    def _leave_trail(self) -> None:
        plant = self.machine.body.plant
        if plant is None:
            return
        x, y = plant.value("x"), plant.value("y")
        if not self.trail or abs(x - self.trail[-1][0]) + abs(y - self.trail[-1][1]) >= TRAIL_STEP_M:
            self.trail.append((x, y))
