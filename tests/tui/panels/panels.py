"""Panels without a terminal: made from a session, with a stand-in for the screen around them."""

import dataclasses
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from mixer.live.bench.session import Session, open_session
from mixer.live.views.snapshot import Snapshot
from tests.live.benches import AtOnce
from tests.profile.random_profiles import Table, as_text
from tui.bench.state import Bench
from tui.drawing.rows import Row
from tui.panels.base import Panel
from tui.screens.bench import PANELS
from tui.screens.bench_keys import BENCH_COMMANDS
from tui.styles.palette import Palette
from tui.styles.themes import themes

PROFILES = Path(__file__).parents[3] / "profiles"
ROBOTS = ("sample_carrier", "tank_pair", "holonomic_trio", "long_crawler")


@dataclass
class Stage:
    """What panels ask of the screen: its places, size, bench and receiver panel, the commands of now."""

    places: dict[str, object] = field(default_factory=lambda: {"mixed": None})
    panels: dict[str, Panel] = field(default_factory=dict)
    bench: Any = None
    size: tuple[int, int] = (80, 24)

    def query_one(self, kind: type[Panel]) -> Panel:
        """The panel of a kind."""
        return next(panel for panel in self.panels.values() if type(panel).__name__ == kind.__name__)

    def commands_now(self, *, own: bool = False) -> Sequence[Any]:
        """The bench's own."""
        return () if own else BENCH_COMMANDS


@dataclass
class Set:
    """All panels of one bench."""

    bench: Bench
    stage: Stage

    @property
    def panels(self) -> dict[str, Panel]:
        """By name."""
        return self.stage.panels

    def show(self, snapshot: Snapshot) -> None:
        """Another picture."""
        self.bench.snapshot = snapshot


def set_of(session: Session, path: Path) -> Set:
    """Every panel as after mounting, each of a class of its own whose screen is the stage."""
    bench = Bench(session, session.snapshot(), lambda: 0.0, path)
    stage = Stage(bench=bench)
    palette = Palette(themes()[0].variables)
    for kind in PANELS:
        there = {"screen": property(lambda _: stage), "size": SimpleNamespace(width=80, height=24)}
        panel = type(kind.__name__, (kind,), there)(bench, palette)
        if "on_mount" in vars(kind):
            panel.on_mount()
        stage.panels[panel.id or ""] = panel
    return Set(bench, stage)


def opened(path: Path, folder: Path) -> Session:
    """A session that leaves nothing beside the profile."""
    return open_session(path, now_s=0.0, worker=AtOnce(), state_folder=folder)


def pictures(session: Session, seconds: float = 2.5) -> Iterator[Snapshot]:
    """A drive: still, armed, full stick, full reverse, without signal; a snapshot of each part."""
    now = 0.0

    def on(duration: float) -> Snapshot:
        nonlocal now
        for _ in range(round(duration * 20)):
            now += 0.05
            session.advance(now)
        return session.snapshot()

    yield session.snapshot()
    yield on(0.2)
    for switch in session.snapshot().switches:
        if switch.arms:
            session.sticks.turn(switch.name, 1)
    yield on(seconds / 2)
    for value in (1.0, -1.0):
        for name in session.sticks.names:
            session.sticks.set(name, value)
        yield on(seconds / 4)
    for choice in session.faults.choices[:2]:
        session.faults.toggle(choice.key)
    yield on(seconds / 4)


def large_robot(seed: int, outputs: int = 24) -> str:
    """A random valid profile of the largest kind: 16 channels, 24 outputs, 8 actuators, long names."""
    dice = random.Random(seed)
    sticks = [f"stick_{number}_{'w' * dice.choice((1, 30))}" for number in range(12)]
    tables: Table = {"robot": {"name": "R" * 60, "tick_ms": dice.choice((2, 5, 10))}}
    tables["stick"] = {name: {"receiver": place + 1} for place, name in enumerate(sticks)}
    tables["switch"] = {
        "arm": {"receiver": 13},
        "one_of_three": {"receiver": 14, "positions": ["p" * 40, "m", "a_very_long_position_of_a_switch"]},
        "third": {"receiver": 15},
        "fourth": {"receiver": 16, "positions": ["low", "middle", "high"]},
    }
    names = [f"output_{number}_{'m' * dice.choice((1, 8, 25))}" for number in range(outputs)]
    tables["output"] = {
        name: {
            "pin": number,
            "mix": {stick: dice.choice((-1.0, 0.5, 1.0)) for stick in dice.sample(sticks, 4)},
            "limit": dice.uniform(0.2, 1.0),
            "slew_up_ms": dice.choice((0, 500)),
            "reversal_pause_ms": dice.choice((0, 200)),
            "wire": dice.choice(("pulse", "duty")),
        }
        for number, name in enumerate(names)
    }
    tables["contact"] = {
        f"{end}_{number}": {"pin": f"A{2 * number + place}"}
        for number in range(8)
        for place, end in enumerate(("out", "in"))
    }
    tables["actuator"] = {
        f"screw_{number}": {
            "output": names[-1 - number],
            "out_stop": f"out_{number}",
            "in_stop": f"in_{number}",
            "full_travel_ms": 900,
        }
        for number in range(8)
    }
    tables["group"] = {"g": {"outputs": names[:12], "over_range": "scale"}}
    tables["guard"] = {"arm": {"switch": "arm", "position": "on"}}
    return as_text(tables)


def changed(view: Any, **values: object) -> Any:  # noqa: ANN401
    """A frozen view with other values."""
    return dataclasses.replace(view, **values)


def drawn(panel: Panel, width: int, height: int) -> list[Row]:
    """The rows of a panel with its title, as they go to the terminal."""
    return panel._rows(width, height)


def words_of(rows: Sequence[Row]) -> str:
    """Everything drawn, as lines."""
    return "\n".join("".join(text for text, _ in row) for row in rows)
