"""A log as a source of inputs, with a transport: play, step, scrub, speed, jump to what happened.

A second robot, the scout, runs the log ahead of time from power-up (or from the state beside the log),
a stretch in every frame; it keeps a moment every `CHECK_TICKS` and notes what happens when. Scrubbing puts
the robot on the bench into the nearest moment before the goal and runs it from there: exactly what playing
the log from its start gives.
Injected faults are not in the scout's run: after a scrub they begin anew.
"""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from pathlib import Path

from mixer.core.plan import Plan
from mixer.live.judge.monitored import LiveBoard, Quick, quick_of
from mixer.live.listen.changes import Observer
from mixer.live.robot.robot import Build, LiveRobot, Moment
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.start_state import read_start_state

CHECK_TICKS = 250
LONG_WAY = 1000
"""From so many ticks on, generating code first is quicker than calling the core."""
SLOWEST, FASTEST = 0.1, 20.0


Opener = Callable[[Path, Plan], DriveLog]


class Replay:
    """The source ``replay``: one log, for one robot."""

    mode = "replay"

    def __init__(self, path: Path, robot: LiveRobot, opener: Opener) -> None:
        """Read the whole log; `robot` is the one on the bench. Raises LogError where it cannot be read.

        `opener` makes the log of a plan, so that columns are mapped in one place.
        """
        self.path = path
        self.playing = False
        self.speed = 1.0
        self.jumped = 0
        """How often the position has jumped: whoever follows the robot's signals starts anew then."""
        self._robot = robot
        self._at = 0
        self._opener = opener
        self._inputs = opener(path, robot.plan).inputs()
        self._scouted = 0
        self._scout_anew(robot.build)

    def change_build(self, build: Build) -> None:
        """Go on with a changed plan: the scout begins anew, the robot on the bench goes on as it is."""
        if _wires(build.plan) != _wires(self._scout.plan):
            self._inputs = self._opener(self.path, build.plan).inputs()
        self._scout_anew(build)

    @property
    def length_s(self) -> float:
        """Length of the log."""
        return len(self._inputs) * self._tick_s

    @property
    def position_s(self) -> float:
        """Where the robot is in the log."""
        return self._at * self._tick_s

    @property
    def ended(self) -> bool:
        """Whether the log has been played to its end."""
        return self._at >= len(self._inputs)

    @property
    def events_s(self) -> Sequence[float]:
        """Times of guard changes, losses, vetoes and broken rules, as far as the scout has come."""
        return tuple(tick * self._tick_s for tick in self._events)

    def play(self) -> None:
        """Go on; from the start when the log is at its end."""
        if self.ended:
            self.seek(0.0)
        self.playing = True

    def pause(self) -> None:
        """Stay where it is."""
        self.playing = False

    def set_speed(self, speed: float) -> None:
        """So many times as fast as it was, 0.1 to 20."""
        self.speed = min(max(speed, SLOWEST), FASTEST)

    def seek(self, seconds: float) -> None:
        """Go to a time of the log."""
        self._go(min(max(round(seconds / self._tick_s), 0), len(self._inputs)))

    def next_event(self) -> bool:
        """Go to the end of the next tick in which something happens; False when nothing does any more."""
        while not self._events or self._events[-1] < self._at:
            if self._scouted >= len(self._inputs):
                return False
            self.scout(LONG_WAY + 1)
        self._go(self._events[bisect_left(self._events, self._at)] + 1)
        return True

    def previous_event(self) -> bool:
        """Go back to the end of the last tick before this one in which something happened."""
        self.scout(self._at - self._scouted)
        place = bisect_left(self._events, self._at - 1)
        if not place:
            return False
        self._go(self._events[place - 1] + 1)
        return True

    def scout(self, ticks: int) -> None:
        """Let the scout run ahead."""
        scout = self._scout
        board = self._board
        if ticks > LONG_WAY and not board.is_quick:
            self.adopt(quick_of(scout.plan))
        for tick in range(self._scouted, min(self._scouted + max(ticks, 0), len(self._inputs))):
            broken = board.mask
            scout.step(self._inputs[tick].tolist())
            happened = self._observer.look(scout.signals)
            if happened or (board.mask and board.mask != broken):
                self._events.append(tick)
            self._scouted = tick + 1
            if self._scouted % CHECK_TICKS == 0:
                self._moments.append(scout.saved)

    def adopt(self, quick: Quick) -> None:
        """The tick as generated code is there: the scout may use it."""
        self._board.adopt(quick)

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """The log's next tick, contacts as recorded; at its end nothing comes any more."""
        del tick
        if self.ended:
            return [0] * (self._inputs.shape[1] - len(readings)) + list(readings)
        row: list[int] = self._inputs[self._at].tolist()
        self._at += 1
        if self.ended:
            self.playing = False
        return row

    def _scout_anew(self, build: Build) -> None:
        plan = build.plan
        self._tick_s = plan.tick_ms / 1000
        self._board = LiveBoard(plan)
        self._scout = LiveRobot(build, self._board)
        self._scout.power_up(read_start_state(self.path, plan))
        board = self._robot.board
        if isinstance(board, LiveBoard) and board.quick is not None:
            self.adopt(board.quick)
        self._observer = Observer(plan, self._scout.signals)
        self._moments: list[Moment] = [self._scout.saved]
        self._scouted = 0
        self._events: list[int] = []

    def _go(self, tick: int) -> None:
        self.scout(tick - self._scouted)
        number = min(tick // CHECK_TICKS, len(self._moments) - 1)
        self._robot.restore(self._moments[number])
        for at in range(number * CHECK_TICKS, tick):
            self._robot.step(self._inputs[at].tolist())
        self._at = tick
        self.jumped += 1


def _wires(plan: Plan) -> tuple[str, ...]:
    """What decides how a log is read: names, tick, and what an open contact reads."""
    contacts = [f"{contact.name} {contact.closed_reads}" for contact in plan.contacts]
    return (*(channel.name for channel in plan.channels), *contacts, str(plan.tick_ms))
