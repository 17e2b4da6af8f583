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

from mixer.errors import LogError, OptionError
from mixer.link.serial_port import open_serial
from mixer.link.session import Session as LinkSession
from mixer.live.picture.curve import Response, response_of
from mixer.live.picture.picture import named_signals
from mixer.live.picture.snapshot import Snapshot
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.events import EventLog
from mixer.live.robot.hands import HandSticks
from mixer.live.robot.loop import Loop, Source
from mixer.live.robot.machine import Machine
from mixer.live.robot.pace import Pace
from mixer.live.robot.quickening import Quickening, Worker
from mixer.live.robot.recorder import Recorder
from mixer.live.robot.replay import Replay
from mixer.live.tuning.recovery import RecoveryFile, recovery_path
from mixer.live.tuning.tuning import Tuning, changes_between
from mixer.profile import Profile, load_profile
from mixer.runs.explain.chain import Step
from mixer.runs.explain.outputs import output_steps
from tui.engine.album import Album
from tui.engine.link import LinkSource, Polled

SCOUT_TICKS = 150
"""How far a log's scout runs ahead in one `advance`, once its code is generated."""


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
        self.machine = Machine(profile, loadout)
        self.tuning = Tuning(profile, loadout, self._retune, recovery)
        self.events = EventLog()
        frame_ms = profile.robot(loadout).receiver.frame_ms
        self.sticks = HandSticks(self.machine.plan, frame_ms)
        self.faults = FaultBoard(self.machine.plan, frame_ms)
        self.replay: Replay | None = None
        self.link: LinkSource | None = None
        self.pad: Source | None = None
        """A game controller as a source, where somebody puts one (see `tui.engine.pad`)."""
        self._loop = Loop(self.machine, self.sticks, self.faults, self.events)
        self._pace = Pace(self.machine.plan.tick_ms / 1000, now_s)
        self._paused = False
        self._stopwatch = stopwatch
        self._quickening = Quickening(worker)
        self._steady_since = 0
        self._jumped = 0
        self._link_state = ""
        self._recovery, self._recovery_problem = recovery, ""
        self._album = Album()
        self.snapshot()

    @property
    def recorder(self) -> Recorder:
        """What records the board's inputs; `record` begins, `recorder.stop()` ends it."""
        return self._loop.recorder

    def advance(self, now_s: float) -> Snapshot:
        """Run all ticks due by `now_s` (any clock that never runs backwards), newest snapshot out.

        At speed 1, ticks and clock do not drift: after t seconds t / tick ticks have run, but for what
        stalls longer than `pace.MOST_CATCH_UP_S` have skipped (`snapshot.cost.skipped_s`).
        """
        ticks = self._pace.due(now_s, self._speed())
        self._run(ticks)
        if self._pace.skipped_now_s:
            words = f"{self._pace.skipped_now_s:.2f} s left out: this machine was busy"
            self.events.add(self._loop.time_s, "session", words, "warn")
        if self.replay is not None:
            quick = self.machine.board.is_quick
            self.replay.scout(SCOUT_TICKS if quick else SCOUT_TICKS // 10)
        return self.snapshot()

    def snapshot(self) -> Snapshot:
        """The newest picture, without running anything (after an edit, say)."""
        return self._album.take(self, self._loop, self._pace, paused=self._paused)

    def step(self, ticks: int = 1) -> Snapshot:
        """Run a number of ticks whatever the clock says (single-stepping while paused)."""
        self._run(ticks)
        return self.snapshot()

    def pause(self) -> None:
        """Hold simulated time, or the log. `resume` goes on without jumping."""
        if self._loop.source is self.replay and self.replay is not None:
            self.replay.pause()
        self._paused = True

    def resume(self) -> None:
        """Go on from where `pause` stopped."""
        if self._loop.source is self.replay and self.replay is not None:
            self.replay.play()
        self._paused = False

    def power_up(self) -> None:
        """Switch the board off and on; the robot stands at its start, battery full, cold."""
        if self._loop.source is self.replay and self.replay is not None:
            self.replay.seek(0.0)
        else:
            self.machine.power_up()
        self._loop.trail.clear()
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
        self._loop.source = source
        self._paused = False
        self.events.add(self._loop.time_s, "session", f"inputs from: {mode}")

    def open_log(self, path: Path) -> None:
        """Load a log and stand at its start, paused. Raises LogError; everything then stays as it was."""
        replay = Replay(path, self.tuning.profile, self.tuning.loadout, self.machine)
        self.replay, self._jumped = replay, replay.jumped
        self.use("replay")
        replay.seek(0.0)

    def open_link(self, port: str, opener: Callable[[], Polled] | None = None) -> None:
        """Connect to a pulse reader and use it. Raises LinkError or MissingToolError; all then stays.

        `opener` stands in for the serial port in tests and for other kinds of ports.
        """
        link = LinkSource(
            port, opener or (lambda: LinkSession(lambda: open_serial(port))), self.machine.plan
        )
        if self.link is not None:
            self.link.close()
        self.link = link
        link.start()
        self.use("link")

    def record(self, path: Path) -> None:
        """Record what reaches the board from the next tick on, as a log that replays to the same bits.

        Raises StickwrightError where it cannot be written. `recorder.stop()` ends it.
        """
        self.recorder.start(path, self.machine.plan, self.machine.board.state)
        self.events.add(self._loop.time_s, "session", f"recording to {path.name}")

    def change_loadout(self, loadout: str | None) -> None:
        """The same robot with other parts, powered up anew. Raises OptionError for an unknown one."""
        profile = self.tuning.profile
        profile.plan(loadout)
        self.recorder.stop()
        self.machine = self._loop.machine = Machine(profile, loadout)
        self.tuning.loadout = loadout
        if self.replay is not None:
            self.use("hand")
            self.replay = None
        self._take_up(profile)
        self._watch_anew(f"loadout: {loadout or 'the base robot'}")

    def explain(self, output: str) -> Sequence[Step]:
        """The chain of (stage, text, value) of an output at this instant. Raises OptionError.

        Pulses are the newest that came, so that the chain does not flicker between two frames.
        """
        plan, signals = self.machine.plan, named_signals(self.machine)
        found = next((item for item in plan.outputs if item.name == output), None)
        if found is None:
            names = ", ".join(item.name for item in plan.outputs)
            raise OptionError(f"there is no output {output!r}", f"one of {names}")
        inputs = list(self.machine.inputs)
        views = self._album.newest.channels
        for number, channel in enumerate(plan.channels):
            missing = views[number].missing
            inputs[number] = 0 if missing else self.machine.arrived[number]
            signals[f"channel.{channel.name}.good"] = int(not missing and self.machine.good[number])
        return tuple(output_steps(plan, found, inputs, signals))

    def curve(self, stick: str, points: int = 101) -> Response:
        """What a stick's shape in use makes of every command, and the live point. Raises OptionError."""
        robot = self.tuning.profile.robot(self.tuning.loadout)
        return response_of(self.machine.plan, robot, stick, named_signals(self.machine), points)

    def close(self) -> None:
        """End links and recordings; the recovery file stays while edits are unsaved."""
        self.recorder.stop()
        if self.link is not None:
            self.link.close()
        self._quickening.close()

    def _speed(self) -> float:
        if self._loop.source is self.replay and self.replay is not None:
            return self.replay.speed if self.replay.playing else 0.0
        return 0.0 if self._paused else 1.0

    def _run(self, ticks: int) -> None:
        board = self.machine.board
        if not board.is_quick:
            steady_s = (self._loop.tick - self._steady_since) * self._pace.tick_s
            quick = self._quickening.look(board.plan, steady_s)
            if quick is not None and board.adopt(quick) and self.replay is not None:
                self.replay.adopt(quick)
        if self.replay is not None and self.replay.jumped != self._jumped:
            self._jumped = self.replay.jumped
            self.faults.restart()
            self._loop.watch_anew()
        began = self._stopwatch() if self._stopwatch else 0.0
        self._loop.run(ticks)
        took_s = self._stopwatch() - began if self._stopwatch else 0.0
        self._album.note_cost(ticks, took_s)
        self._tell_link()

    def _tell_link(self) -> None:
        state = self.link.view() if self.link is not None else None
        if state is not None and state.state != self._link_state:
            self._link_state = state.state
            bad = state.state in ("lost", "unreadable")
            self.events.add(self._loop.time_s, "link", state.words, "bad" if bad else "note")

    def _retune(self, profile: Profile) -> None:
        """Another tuning of this robot, between two ticks."""
        before = self.machine.profile
        self.machine.change(profile, self.tuning.loadout)
        self._take_up(profile)
        for change in changes_between(before, profile, self.tuning.loadout)[:4]:
            words = f"{change.key}: {change.was} -> {change.now}"
            self.events.add(self._loop.time_s, "edit", words)
        if self._recovery.problem != self._recovery_problem:
            self._recovery_problem = self._recovery.problem
            if self._recovery_problem:
                self.events.add(self._loop.time_s, "edit", self._recovery_problem, "bad")

    def _take_up(self, profile: Profile) -> None:
        """Everything that goes by the plan goes by the new one."""
        plan, frame_ms = self.machine.plan, profile.robot(self.tuning.loadout).receiver.frame_ms
        self.sticks.take_up(plan, frame_ms)
        self.faults.take_up(plan, frame_ms)
        if self.link is not None:
            self.link.take_up(plan)
        if self.replay is not None:
            try:
                self.replay.take_up(profile, self.tuning.loadout)
            except LogError as error:
                self.use("hand")
                self.replay = None
                self.events.add(self._loop.time_s, "session", f"the log was closed: {error}", "bad")
        self._steady_since = self._loop.tick
        self._loop.watch_anew()
        self._album.plan_changed()

    def _watch_anew(self, words: str) -> None:
        self._loop.watch_anew()
        self.events.add(self._loop.time_s, "session", words)


def open_session(
    path: Path,
    *,
    now_s: float,
    loadout: str | None = None,
    state_folder: Path | None = None,
    stopwatch: Callable[[], float] | None = None,
    worker: Worker | None = None,
) -> Session:
    """A session of a profile file, powered up, on hand sticks. Raises ProfileError or OptionError.

    `state_folder` is where unsaved edits are kept (default: beside the profile). `stopwatch` gives
    seconds and is used only to tell the cost of a tick. `worker` generates code beside the running bench
    (default: a thread of its own).
    """
    profile = load_profile(path)
    recovery = RecoveryFile(recovery_path(path, state_folder))
    return Session(profile, recovery, now_s=now_s, loadout=loadout, stopwatch=stopwatch, worker=worker)
