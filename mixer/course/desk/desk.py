"""The course beside a session: a task is chosen, the robot put at its start, a run followed and kept.

A run begins at power-up with a full battery and everything at rest, so that its log, driven again, gives
the same ticks and so the same measures. Where hands or a game controller drive, it is armed by the
desk; over a link the driver arms.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple, Protocol

from mixer.course.desk.blind import Blind
from mixer.course.desk.shelf import Shelf
from mixer.course.keep.card import Card
from mixer.course.run.lap import Lap
from mixer.course.run.measures import RunMeasures
from mixer.course.study.compare import SHARES, Question, Study
from mixer.course.tasks.scale import Scale, scale_of
from mixer.course.tasks.shapes import Point
from mixer.course.tasks.task import TASKS, Task, drawn, thinned
from mixer.errors import OptionError
from mixer.live.bench.session import Session
from mixer.live.robot.robot import Build, with_physics
from mixer.runs.play.stretch import Stretch

TRACE_M = 0.02


class Done(NamedTuple):
    """A run that is over."""

    measures: RunMeasures | None
    """None where it did not come to its end."""
    trace: tuple[Point, ...]
    log: Path
    why: str = ""
    """Why it does not count; empty where it does."""


class Worker(Protocol):
    """Something that does a job some time; the library's executors, or a test's own."""

    def submit(self, job: Callable[[Build], Scale], build: Build, /) -> "Future[Scale]":
        """Begin."""
        ...


class Desk:
    """One session's course."""

    def __init__(self, session: Session, root: Path, worker: Worker | None = None) -> None:
        """Measure the robot's size and speed beside the running bench; `root` is where runs are kept.

        Raises OptionError for a robot without physics.
        """
        self.session = session
        self.shelf = Shelf(root, session.robot.plan.name)
        self.task: Task | None = None
        self.lap: Lap | None = None
        """The run under way, or the last one."""
        self.runs: list[Done] = []
        """Of the chosen task, the newest last."""
        self.blind: Blind | None = None
        self.result: Study | None = None
        """Of the comparison that was ended last."""
        self.running = False
        """Whether a run is under way, begun or waiting for the sticks."""
        self._own: tuple[Point, ...] = ()
        self._build = with_physics(session.robot.build)
        worker = worker or ThreadPoolExecutor(1, "course")
        self._measuring = worker.submit(scale_of, self._build)
        session.robot.add(self)

    @property
    def tasks(self) -> Sequence[Task]:
        """What can be chosen; none while the robot is being measured.

        Raises OptionError for a robot that cannot drive.
        """
        if not self._measuring.done():
            return ()
        scale = self._measuring.result()
        own = [drawn(scale, self._own)] if self._own else []
        return [*(make(scale) for make in TASKS), *own]

    @property
    def stale(self) -> bool:
        """Whether the robot has other parts than those that were measured."""
        return self.session.robot.build.prepared.robot != self._build.prepared.robot

    def choose(self, key: str) -> None:
        """Take up a task. Raises OptionError during a blind comparison."""
        if self.blind is not None:
            raise OptionError("a blind comparison is under way", "end it first")
        self.give_up()
        self.task = next((task for task in self.tasks if task.key == key), self.task)
        self.lap, self.runs, self.result = None, [], None

    def start(self) -> None:
        """Put the robot at its start and begin a run with its log.

        Raises OptionError where there is something in the way, WriteError where the log cannot be made.
        """
        self.give_up()
        if self.task is None:
            raise OptionError("no task is chosen", "choose one first")
        self._check_free()
        if self.blind is not None:
            self._deal(self.blind)
        session, task = self.session, self.task
        session.resume()
        session.power_up()
        session.sticks.centre()
        self._build = with_physics(session.robot.build)
        log = self.shelf.next_log(task.key)
        card = self._card(task)
        robot = self._build.prepared.robot
        head = card.model_dump(exclude_defaults=True)
        session.recorder.start(log, self._build.plan, robot=robot, head=head)
        self._jumps = session.robot.jumps
        self._log, self.lap, self.running = log, Lap(task, self._build), True
        if self._mode in ("hand", "pad"):
            self._arm()

    def add(self, stretch: Stretch) -> None:
        """Follow the run under way."""
        if self.lap is None or not self.running:
            return
        why = self._spoilt()
        if why:
            self._end(why)
            return
        self.lap.add(stretch)
        if self.lap.over:
            limit = self.lap.task.limit_s
            self._end("" if self.lap.finished else f"not at its end after {limit:.0f} s")

    def give_up(self) -> None:
        """End the run under way, if there is one; it does not count."""
        if self.running:
            self._end("given up")

    def keep_way(self) -> None:
        """Make the way that the last run took a task of its own. Raises OptionError where there is none."""
        if not self.runs or self._measuring.exception() is not None:
            raise OptionError("no run whose way could be kept", "drive one first, of any task")
        own = drawn(self._measuring.result(), self.runs[-1].trace)
        self._own = own.way
        self.choose(own.key)

    def compare(self, measure: str, seed: int) -> None:
        """Begin a blind comparison of the two tunings on the chosen task.

        Raises OptionError without a task, or where both tunings are the same.
        """
        if self.task is None:
            raise OptionError("no task is chosen", "choose one first")
        self.give_up()
        tuning = self.session.tuning
        side, tuning.hidden = tuning.view().side, True  # nothing of the changes to and fro is told
        a, b = (self._fingerprint(each) for each in ("A", "B"))
        tuning.hidden = a != b
        if a == b:
            tuning.swap(side)
            raise OptionError("A and B are the same tuning", "change a value of one of them first")
        self.blind = Blind(f"{seed:x}", seed, Question(measure, SHARES[measure]), (a, b))
        self.runs, self.result, self.lap = [], None, None

    def reveal(self) -> Study | None:
        """End the comparison: from now on everybody may know. None where no pair was driven."""
        self.give_up()
        if self.blind is None:
            return None
        self.result, self.blind, self.session.tuning.hidden = self.blind.result(), None, False
        return self.result

    @property
    def _mode(self) -> str:
        return self.session.snapshot().transport.mode

    def _check_free(self) -> None:
        if self._mode == "replay":
            raise OptionError("a log is being replayed", "take the sticks in hand first")
        if self.session.faults.active:
            raise OptionError("something is broken", "mend everything first")
        if self.session.recorder.path is not None:
            raise OptionError("a recording is under way", "end it first")

    def _deal(self, blind: Blind) -> None:
        if self._fingerprint(blind.dealt) != blind.tunings["AB".index(blind.dealt)]:
            self.reveal()
            raise OptionError("a tuning was changed", "the comparison is ended: begin another")

    def _fingerprint(self, side: str) -> str:
        """Of a tuning, which is in use from now on."""
        tuning = self.session.tuning
        tuning.swap(side)
        return tuning.profile.fingerprint(tuning.loadout)

    def _card(self, task: Task) -> Card:
        tuning, blind = self.session.tuning, self.blind
        profile, scale = tuning.profile, task.scale
        fields = {
            "robot": self._build.plan.name, "driver": self.shelf.driver, "task": task.key,
            "tuning": profile.fingerprint(tuning.loadout), "profile": self.shelf.keep_tuning(profile.text),
            "loadout": tuning.loadout, "without": list(profile.taken),
            "reach_m": scale.reach_m, "speed_mps": scale.speed_mps,
            "way": list(task.way) if task.key == "own" else [],
        }  # fmt: skip
        if blind is not None:
            question = blind.question
            fields |= {"study": blind.name, "pair": blind.pair, "side": blind.dealt}
            fields |= {"measure": question.measure, "share": question.share}
        return Card.model_validate(fields)

    def _arm(self) -> None:
        """As hands would, at once; the recorder sees it."""
        session, guard = self.session, self._build.plan.guard
        session.robot.arm()
        if guard.arm is not None:
            session.sticks.turn(self._build.plan.switches[guard.arm.switch].name, guard.arm.position)

    def _spoilt(self) -> str:
        """What makes the run under way no run any more."""
        if self.session.robot.build is not self._build:
            return "the tuning was changed meanwhile"
        if self.session.robot.jumps != self._jumps:
            return "the robot was put elsewhere meanwhile"
        if self.session.faults.active:
            return "something was broken meanwhile"
        return "its log was ended" if self.session.recorder.path is None else ""

    def _end(self, why: str) -> None:
        lap, blind, recorder = self.lap, self.blind, self.session.recorder
        assert lap is not None
        self.running = False
        recorder.stop()
        done = Done(None if why else lap.measures(), thinned(lap.trace, TRACE_M), self._log, why)
        self.runs.append(done)
        self.session.sticks.centre()
        if blind is not None and lap.begun:
            if done.measures is None:
                blind.repeated.append(blind.dealt)
            else:
                blind.runs.append(done.measures)
