"""A bench without a terminal, driven by a clock that the test moves."""

import shutil
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from mixer.live.bench.session import Session, open_session
from tests.live.benches import AtOnce, be_quick
from tui.app import BenchApp
from tui.screens.bench import BenchScreen

PROFILES = Path("profiles").resolve()
FRAME_S = 1 / 30


class HandClock:
    """Seconds, moved by hand."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        """The time now."""
        return self.now


@dataclass
class Driven:
    """One bench in a test."""

    app: BenchApp
    pilot: Pilot[None]
    clock: HandClock
    path: Path

    @property
    def screen(self) -> BenchScreen:
        """The bench, whatever stands before it."""
        return self.app.bench_screen

    @property
    def session(self) -> Session:
        """What the bench runs."""
        return self.app.bench.session

    @property
    def snapshot(self) -> Any:  # noqa: ANN401
        """The newest picture."""
        return self.app.bench.snapshot

    def run(self, seconds: float) -> None:
        """Let time pass, picture by picture."""
        for _ in range(round(seconds / FRAME_S)):
            self.clock.now += FRAME_S
            self.screen.paint_frame()

    async def press(self, *keys: str) -> None:
        """Press keys and let them take effect."""
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def go_live(self) -> None:
        """Arm the robot."""
        self.run(0.5)
        await self.press("1")
        self.run(1.2)
        assert self.snapshot.guard.state == "live"

    def text(self) -> str:
        """Everything on the screen, as characters."""
        panels = self.screen.panels
        rows = [row for name in self.screen.places for row in panels[name]._drawn]
        return "\n".join("".join(text for text, _ in row) for row in rows)


@asynccontextmanager
async def bench(
    folder: Path,
    name: str = "sample_carrier",
    *,
    size: tuple[int, int] = (200, 50),
    prepare: Callable[[Session], object] = lambda _: None,
    example: bool = False,
) -> AsyncIterator[Driven]:
    """A bench of a copy of an example robot."""
    path = folder / f"{name}.toml"
    if not path.exists():
        shutil.copy(PROFILES / path.name, path)
    clock = HandClock()
    session = open_session(path, now_s=0.0, worker=AtOnce(), state_folder=folder / "state")
    be_quick(session)
    prepare(session)
    app = BenchApp(session, path, clock=clock, frames_per_s=0, example=example)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Driven(app, pilot, clock, path)
