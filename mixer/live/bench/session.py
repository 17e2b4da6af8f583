"""One robot on the bench: profile, firmware, physics and rules, run in catch-up by a clock handed in.

    session = open_session(Path("carrier.toml"), now_s=clock())
    while True:
        snapshot = session.advance(clock())

`Session` ties its parts together; each part is an attribute with a small interface of its own: `sticks`
(hands), `replay` (a log and its transport), `link`, `faults`, `tuning`, `events`, `recorder`. What is done
to a part takes effect in the next tick.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from mixer.core.plan import Plan
from mixer.errors import LogError, OptionError
from mixer.live.bench.generated import GeneratedTicks, Worker
from mixer.live.bench.on_chip import ImageSlot
from mixer.live.bench.pace import Pace
from mixer.live.bench.snapshots import Parts, Snapshots
from mixer.live.inputs.hands import HandSticks
from mixer.live.inputs.replay import Replay
from mixer.live.judge.monitored import LiveBoard
from mixer.live.listen.diary import Diary, Trail
from mixer.live.listen.events import EventLog
from mixer.live.listen.recorder import Recorder
from mixer.live.picture.curve import Response, response_of
from mixer.live.picture.picture import last_tick
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.robot import LiveRobot, Source, build_of
from mixer.live.tuning.recovery import RecoveryFile
from mixer.live.tuning.tuning import Tuning
from mixer.live.views.snapshot import Snapshot
from mixer.live.views.status import NO_LINK, LinkView
from mixer.profile.aboard import Tunings
from mixer.profile.edit.differences import Change
from mixer.profile.profile import Profile, load_profile
from mixer.profile.read.fitting import fitting_of
from mixer.runs.explain.outputs import output_steps
from mixer.runs.explain.steps import Step
from mixer.runs.log.mapping import Mapping
from mixer.runs.play.drive_log import DriveLog

STALLS_EVERY_S = 10.0
"""At most this often a new line tells that time had to be left out."""
SCOUT_TICKS = 150
"""How far a log's scout runs ahead in one `advance`, once its code is generated."""


class Link(Source, Protocol):
    """A board on a port as a source (`mixer.link.source`)."""

    def view(self) -> LinkView:
        """How the link stands."""
        ...

    def change_plan(self, plan: Plan) -> None:
        """Go on with a changed plan."""
        ...

    def follow(self, tunings: Tunings) -> None:
        """Another tuning is in use: what the board runs is told against that one from now on."""
        ...

    def news(self) -> Sequence[tuple[str, str]]:
        """What is to be told of the board since the last call: words, and ``note``, ``warn`` or ``bad``."""
        ...

    def close(self) -> None:
        """Stop reading and give the port back."""
        ...


class Session:
    """A running robot. Not for sharing between threads."""

    def __init__(
        self,
        profile: Profile,
        recovery: RecoveryFile,
        *,
        now_s: float,
        loadout: str | None = None,
        stopwatch: Callable[[], float] | None = None,
        worker: Worker | None = None,
    ) -> None:
        """Power up on hand sticks. See `open_session`."""
        self.robot = LiveRobot(build_of(profile, loadout))
        self.tuning = Tuning(profile, loadout, self._retune, recovery)
        self.events = EventLog()
        frame_ms = profile.robot(loadout).receiver.frame_ms
        self.sticks = HandSticks(self.robot.plan, frame_ms)
        self.faults = self.robot.faults = FaultBoard(self.robot.plan, frame_ms)
        self.recorder = Recorder()
        """What records the board's inputs; `record` begins, `recorder.stop()` ends it."""
        self.replay: Replay | None = None
        self.link: Link | None = None
        self.image = ImageSlot(self.robot, self.faults, self.events)
        self.pad: Source | None = None
        """A game controller as a source, where somebody puts one (see `tui.pad`)."""
        self._source: Source = self.sticks
        self._diary = Diary(self.robot.plan, self.robot.signals, self.events)
        self._trail = Trail(self.robot.build.prepared.robot)
        for sink in (self.recorder, self._diary, self._trail):
            self.robot.add(sink)
        self._pace = Pace(self.robot.plan.tick_ms / 1000, now_s)
        self._stall_told_s, self._stall_told = -STALLS_EVERY_S, -1
        self._paused, self._stopwatch = False, stopwatch
        self.generated = GeneratedTicks(worker)
        """The ticks of its plans as generated code, as they get ready."""
        self._steady_since = self._jumped = 0
        self._link_state = ""
        self._told_link: Tunings | None = None
        """What the link was told last."""
        self._recovery, self._recovery_problem = recovery, ""
        self._snapshots = Snapshots()
        self.snapshot()

    def advance(self, now_s: float) -> Snapshot:
        """Run all ticks due by `now_s` (any clock that never runs backwards), newest snapshot out.

        At speed 1, ticks and clock do not drift: after t seconds t / tick ticks have run, but for what
        stalls longer than `pace.MOST_CATCH_UP_S` have skipped (`snapshot.cost.skipped_s`).
        """
        ticks = self._pace.due(now_s, self._speed())
        self._run(ticks)
        self._tell_of_stalls(now_s)
        if self.replay is not None:
            board = self.robot.board
            quick = isinstance(board, LiveBoard) and board.is_quick
            self.replay.scout(SCOUT_TICKS if quick else SCOUT_TICKS // 10)
        return self.snapshot()

    def begin(self, now_s: float) -> None:
        """Somebody looks from now on: the time that setting up took is not owed."""
        self._pace.begin(now_s)

    def snapshot(self) -> Snapshot:
        """The newest picture, without running anything (after an edit, say)."""
        parts = Parts(
            robot=self.robot,
            loadout=fitting_of(self.tuning.loadout).words,
            source=self._source,
            replay=self.replay,
            link=self.image.view() or (NO_LINK if self.link is None else self.link.view()),
            faults=self.faults.active,
            tuning=self.tuning.view(),
            diary=self._diary,
            trail=self._trail,
            recording=str(self.recorder.path or ""),
            pace=self._pace,
            paused=self._paused,
        )
        return self._snapshots.take(parts)

    def step(self, ticks: int = 1) -> Snapshot:
        """Run a number of ticks whatever the clock says (single-stepping while paused)."""
        self._run(ticks)
        return self.snapshot()

    def pause(self) -> None:
        """Hold simulated time, or the log. `resume` goes on without jumping."""
        if self._source is self.replay and self.replay is not None:
            self.replay.pause()
        self._paused = True

    def resume(self) -> None:
        """Go on from where `pause` stopped."""
        if self._source is self.replay and self.replay is not None:
            self.replay.play()
        self._paused = False

    def power_up(self) -> None:
        """Switch the board off and on; the robot stands at its start, battery full, cold."""
        if self._source is self.replay and self.replay is not None:
            self.replay.seek(0.0)
        else:
            self.robot.power_up()
        self.image.power_up()
        self._trail.points.clear()
        self._watch_anew("switched off and on")

    def use(self, mode: str) -> None:
        """Take inputs from ``hand``, ``replay``, ``link`` or ``pad``. Raises OptionError if not there."""
        sources: dict[str, Source | None] = {
            "hand": self.sticks, "replay": self.replay, "link": self.link, "pad": self.pad,
        }  # fmt: skip
        source = sources.get(mode)
        if source is None:
            there = ", ".join(name for name, found in sources.items() if found is not None)
            raise OptionError(f"there is no {mode!r} to take inputs from", f"one of {there}")
        self.sticks.centre()
        self._source = source
        self._paused = False
        self.events.add(self.robot.time_s, "session", f"inputs from: {source.mode}")

    def open_log(self, path: Path, mapping: Mapping | None = None, at_s: float = 0.0) -> None:
        """Load a log and stand at a time of it, paused. Raises LogError; everything then stays as it was.

        `mapping` says which columns of a log from elsewhere are meant, and in which units.
        """

        def opener(log: Path, plan: Plan) -> DriveLog:
            unused = self.tuning.profile.unused(self.tuning.loadout)
            return DriveLog(plan, log, mapping=mapping, unused=unused)

        replay = Replay(path, self.robot, opener)
        self.replay, self._jumped = replay, replay.jumped
        self.use("replay")
        replay.seek(at_s)

    def connect(self, link: Link) -> None:
        """Use a board on a port (`mixer.link.source` opens one) instead of whatever was connected.

        Whatever plan the link was opened with, it goes by the bench's own from now on.
        """
        if self.link is not None:
            self.link.close()
        link.change_plan(self.robot.plan)
        self.link, self._told_link = link, None
        self.use("link")

    def record(self, path: Path) -> None:
        """Record what reaches the board from the next tick on, as a log that replays to the same bits.

        Raises StickwrightError where it cannot be written. `recorder.stop()` ends it.
        """
        build, state = self.robot.build, self.robot.board.state
        self.recorder.start(path, build.plan, state, robot=build.prepared.robot)
        self.events.add(self.robot.time_s, "session", f"recording to {path.name}")

    def change_loadout(self, loadout: str | None) -> None:
        """The same robot with other parts, powered up anew. Raises OptionError for an unknown one."""
        profile = self.tuning.profile
        profile.plan(loadout)
        self.recorder.stop()
        self.image.drop("it is of another loadout: open the bench anew for this one")
        self.robot.rebuild(build_of(profile, loadout))
        self.tuning.loadout = loadout
        if self.replay is not None:
            self.use("hand")
            self.replay = None
        self._change_profile(profile)
        self._watch_anew(f"loadout: {loadout or 'the base robot'}")

    def explain(self, output: str) -> Sequence[Step]:
        """The chain of (stage, text, value) of an output at this instant. Raises OptionError.

        Pulses are the newest that came, so that the chain does not flicker between two frames.
        """
        plan = self.robot.plan
        found = next((at for at, item in enumerate(plan.outputs) if item.name == output), None)
        if found is None:
            names = ", ".join(item.name for item in plan.outputs)
            raise OptionError(f"there is no output {output!r}", f"one of {names}")
        inputs = list(self.robot.inputs)
        signals, state = last_tick(self.robot)
        channels = list(signals.channels)
        for number, view in enumerate(self._snapshots.newest.channels):
            inputs[number] = 0 if view.missing else self.robot.arrived[number]
            good = not view.missing and self.robot.good[number]
            channels[number] = channels[number]._replace(good=int(good))
        signals = signals._replace(channels=tuple(channels))
        return tuple(output_steps(plan, found, inputs, signals, state))

    def curve(self, stick: str) -> Response:
        """What a stick's shape in use makes of every command, and the live point. Raises OptionError."""
        robot = self.tuning.profile.robot(self.tuning.loadout)
        signals, _ = last_tick(self.robot)
        return response_of(self.robot.plan, robot, stick, signals)

    def close(self) -> None:
        """End links and recordings; the recovery file stays while edits are unsaved."""
        self.recorder.stop()
        if self.link is not None:
            self.link.close()
        self.image.close()
        self.generated.close()
        self._recovery.close()

    def _tell_of_stalls(self, now_s: float) -> None:
        """What was left out, as one line that grows until something else has happened; seldom a new one."""
        if not self._pace.skipped_now_s:
            return
        words = f"{self._pace.skipped_s:.2f} s left out so far: this machine was busy"
        if self.events.count and self.events.newest(1)[0].number == self._stall_told:
            self.events.amend(words)
        elif now_s >= self._stall_told_s + STALLS_EVERY_S:
            self._stall_told, self._stall_told_s = self.events.count, now_s
            self.events.add(self.robot.time_s, "session", words, "warn")

    def _speed(self) -> float:
        if self._source is self.replay and self.replay is not None:
            return self.replay.speed if self.replay.playing else 0.0
        return 0.0 if self._paused else 1.0

    def _run(self, ticks: int) -> None:
        board = self.robot.board
        if isinstance(board, LiveBoard) and not board.is_quick:
            steady_s = (self.robot.tick - self._steady_since) * self._pace.tick_s
            quick = self.generated.look(board.plan, steady_s)
            if quick is not None and board.adopt(quick) and self.replay is not None:
                self.replay.adopt(quick)
        if self.replay is not None and self.replay.jumped != self._jumped:
            self._jumped = self.replay.jumped
            self.faults.restart()
            self._diary.watch(self.robot.plan, self.robot.signals)
        began = self._stopwatch() if self._stopwatch else 0.0
        self._diary.tell_faults(self.faults.active_words, self.robot.time_s)
        self.image.play(self._source, ticks)
        took_s = self._stopwatch() - began if self._stopwatch else 0.0
        self._snapshots.note_cost(ticks, took_s)
        if self.recorder.problem:
            self.events.add(self.robot.time_s, "session", self.recorder.problem, "bad")
            self.recorder.problem = ""
        self._tell_link()

    def _tell_link(self) -> None:
        if self.link is None:
            return
        if not self.tuning.hidden:  # else its words would say which tuning is in use
            self._keep_told(self.link)
        for words, level in self.link.news():
            self.events.add(self.robot.time_s, "link", words, level)
        state = self.link.view()
        if state.state != self._link_state:
            self._link_state = state.state
            bad = state.state in ("lost", "unreadable")
            self.events.add(self.robot.time_s, "link", state.words, "bad" if bad else "note")

    def _keep_told(self, link: Link) -> None:
        """The link knows which tuning is in use, and what its file says."""
        tuning, told = self.tuning, self._told_link
        filed = tuning.file.profile
        new = told is None or told.profile is not tuning.profile or told.others[0][1] is not filed
        if new or (told is not None and told.loadout != tuning.loadout):
            others = (("the profile as its file has it", filed),)
            self._told_link = Tunings(tuning.profile, tuning.loadout, others, tuning.file.path)
            link.follow(self._told_link)

    def _retune(self, profile: Profile, changes: Sequence[Change]) -> None:
        """Another tuning of this robot, between two ticks."""
        self.robot.retune(build_of(profile, self.tuning.loadout))
        self._change_profile(profile)
        for change in changes[:4]:
            self.events.add(self.robot.time_s, "edit", str(change))
        if self._recovery.problem != self._recovery_problem:
            self._recovery_problem = self._recovery.problem
            if self._recovery_problem:
                self.events.add(self.robot.time_s, "edit", self._recovery_problem, "bad")

    def _change_profile(self, profile: Profile) -> None:
        """Everything that goes by the plan goes by the new one."""
        plan, frame_ms = self.robot.plan, profile.robot(self.tuning.loadout).receiver.frame_ms
        self.sticks.change_plan(plan, frame_ms)
        self.faults.change_plan(plan, frame_ms)
        self.image.change_plan(plan)
        if self.link is not None:
            self.link.change_plan(plan)
        if self.replay is not None:
            try:
                self.replay.change_build(self.robot.build)
            except LogError as error:
                self.use("hand")
                self.replay = None
                self.events.add(self.robot.time_s, "session", f"the log was closed: {error}", "bad")
        self._steady_since = self.robot.tick
        self._trail.follow(self.robot.build.prepared.robot)
        self._diary.watch(self.robot.plan, self.robot.signals)
        self._snapshots.plan_changed()

    def _watch_anew(self, words: str) -> None:
        self._diary.watch(self.robot.plan, self.robot.signals)
        self.events.add(self.robot.time_s, "session", words)


def open_session(
    path: Path,
    *,
    now_s: float,
    loadout: str | None = None,
    without: Sequence[str] = (),
    state_folder: Path | None = None,
    stopwatch: Callable[[], float] | None = None,
    worker: Worker | None = None,
    window: str = "a program",
) -> Session:
    """A session of a profile file, powered up, on hand sticks. Raises ProfileError or OptionError.

    `without` names what is taken as dead. `state_folder` is where unsaved edits are kept (default: beside
    the profile). `stopwatch` gives seconds and is used only to tell the cost of a tick. `worker` generates
    code beside the running bench (default: a thread of its own). `window` says to others where this bench
    is.
    """
    profile = load_profile(path).without(without)
    recovery = RecoveryFile(path, state_folder, window)
    return Session(profile, recovery, now_s=now_s, loadout=loadout, stopwatch=stopwatch, worker=worker)
