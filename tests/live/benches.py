"""Sessions for tests: a clock turned by hand, code generated at once, profiles copied aside."""

import shutil
from collections.abc import Callable
from concurrent.futures import Future
from functools import lru_cache
from pathlib import Path

from mixer.core.plan import Plan
from mixer.live.bench.session import Session, open_session
from mixer.live.judge.monitored import LiveBoard, Quick, quick_of
from mixer.live.views.snapshot import Snapshot

ROOT = Path(__file__).parents[2]
LOGS = ROOT / "profiles" / "logs"
FRAME_S = 1 / 30


@lru_cache(maxsize=64)
def once_a_plan(job: Callable[[Plan], Quick], plan: Plan) -> Quick:
    """What the job makes of the plan."""
    return job(plan)


class AtOnce:
    """A worker that has done its job before `submit` returns."""

    def submit(self, job: Callable[[Plan], Quick], plan: Plan, /) -> "Future[Quick]":
        """Do it now."""
        done: Future[Quick] = Future()
        done.set_result(once_a_plan(job, plan))
        return done

    def shutdown(self, *, wait: bool, cancel_futures: bool) -> None:
        """Nothing is left."""


class Never(AtOnce):
    """A worker that does not get to it."""

    def submit(self, job: Callable[[Plan], Quick], plan: Plan, /) -> "Future[Quick]":
        """Never done."""
        del job, plan
        return Future()


def be_quick(session: Session) -> None:
    """Take up the generated tick at once, not after the moment for which a plan has to be steady."""
    board = session.robot.board
    assert isinstance(board, LiveBoard)
    assert board.adopt(once_a_plan(quick_of, board.plan))


class Bench:
    """A session and the clock it goes by."""

    def __init__(
        self, folder: Path, robot: str = "sample_carrier", *, quick: bool = True, loadout: str | None = None
    ) -> None:
        self.path = folder / f"{robot}.toml"
        if not self.path.exists():
            shutil.copy(ROOT / "profiles" / f"{robot}.toml", self.path)
        self.now_s = 50.0
        self.session: Session = open_session(
            self.path,
            now_s=self.now_s,
            loadout=loadout,
            worker=AtOnce() if quick else Never(),
            window="a test",
        )
        if quick:
            be_quick(self.session)

    def run(self, seconds: float) -> Snapshot:
        """Let frames pass; the newest snapshot."""
        for _ in range(max(round(seconds / FRAME_S), 1)):
            self.now_s += FRAME_S
            snapshot = self.session.advance(self.now_s)
        return snapshot

    def arm(self) -> Snapshot:
        """Wait for signal, put the arm switch on, and wait until the robot is live."""
        self.run(0.2)
        names = [switch.name for switch in self.session.snapshot().switches if switch.arms]
        for name in names:
            self.session.sticks.turn(name, 1)
        return self.run(1.5)

    def words(self, kind: str) -> list[str]:
        """What the event log says of one kind."""
        return [event.words for event in self.session.events.since(0) if event.kind == kind]
