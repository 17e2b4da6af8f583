"""A bench used for an hour without a thought: nothing grows, nothing raises, the file always loads."""

import asyncio
import gc
import random
from pathlib import Path

import pytest

from mixer.errors import StickwrightError
from mixer.link.session import Counts, SessionEvent
from mixer.link.source import LinkSource
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile
from tests.tui.driving import PROFILES, Driven, bench

pytestmark = pytest.mark.no_cover

LOG = PROFILES / "logs" / "carrier_two_loads.csv"
KEYS = [
    "space",
    "t",
    "b",
    "e",
    "c",
    "1",
    "2",
    "3",
    "v",
    "g",
    "h",
    "r",
    "H",
    "Z",
    "left_square_bracket",
    "minus",
    "right_square_bracket",
    "equals_sign",
    "full_stop",
    "comma",
    "n",
    "N",
    "less_than_sign",
    "u",
    "U",
    "x",
    "X",
    "greater_than_sign",
    "M",
    "P",
    "o",
    "T",
    "w",
    "a",
    "s",
    "d",
    "i",
    "k",
    "up",
    "down",
    "left",
    "right",
    "shift+left",
    "shift+right",
    "pageup",
    "pagedown",
    "enter",
    "escape",
    "tab",
    "shift+tab",
    "0",
    "5",
    "f1",
    "slash",
    "backspace",
    "home",
    "end",
]
SIZES = ((200, 50), (120, 40), (80, 24), (30, 9), (160, 43), (81, 25))
STEP_S = 0.5
"""From picture to picture: an hour need not take one ..."""
PASSES = 5
"""... and so many times in between the session catches up, so that no time is left out."""
SETTLED_S = 2400.0
"""From then on memory is measured: until then caches fill, some of them for each size of screen."""
MOST_GROWTH_MB = 20.0
"""Caches of graphs and rows still turn over: 8 to 9 MB were seen; a picture kept a step is hundreds."""


class DeadBoard:
    """A port that opens and never brings a frame."""

    counts = Counts()

    def poll(self, _wait_s: float) -> list[SessionEvent]:
        """Nothing came."""
        return []

    def close(self) -> None:
        """Nothing to give back."""


def resident_mb() -> float:
    """Memory of this process now."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


async def disturb(driven: Driven, dice: random.Random) -> None:
    """One thing that somebody might do."""
    session, app = driven.session, driven.app
    match dice.randrange(9):
        case 0 | 1 | 2 | 3:
            await driven.press(dice.choice(KEYS))
        case 4:
            await driven.pilot.resize_terminal(*dice.choice(SIZES))
        case 5:
            session.faults.toggle(dice.choice(session.faults.choices).key)
        case 6:
            knob = dice.choice(session.tuning.knobs)
            value = dice.choice(knob.choices) if knob.choices else dice.uniform(knob.low, knob.reach)
            session.tuning.set(knob.key, dice.random() < 0.5 if knob.kind == "flag" else value)
        case 7:
            app.bench.attempt(session.tuning.save)
            assert load_profile(driven.path).robot()
        case _:
            opening = dice.choice((
                lambda: session.open_log(LOG),
                lambda: session.connect(LinkSource("dead", DeadBoard, Tunings(session.tuning.profile))),
                session.faults.clear_all,
            ))  # fmt: skip
            app.bench.attempt(opening)
    while len(app.screen_stack) > 2:
        app.pop_screen()


async def soak(folder: Path, seconds: float, seed: int) -> float:
    """Simulated seconds of it; how many MB it grew after it had settled."""
    dice, before = random.Random(seed), 0.0
    async with bench(folder) as driven:
        for number in range(round(seconds / STEP_S)):
            if number == round(min(SETTLED_S, seconds / 2) / STEP_S):
                before = resident_mb()
            if dice.random() < 0.25:
                try:
                    await disturb(driven, dice)
                except StickwrightError:
                    continue
            for _ in range(PASSES):
                driven.clock.now += STEP_S / PASSES
                driven.session.advance(driven.clock.now)
            driven.screen.paint_frame()
            if number % 10 == 0:
                await driven.pilot.pause()
        after = resident_mb()
        driven.session.tuning.throw_away()
    assert load_profile(driven.path).robot()
    return after - before


def test_five_seconds(tmp_path: Path) -> None:
    """Seeded, so that it does the same every time."""
    asyncio.run(soak(tmp_path, 5.0, 1))


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_an_hour(tmp_path: Path) -> None:
    """Random keys, sizes, faults, edits, saves, loadouts, logs and links."""
    assert asyncio.run(soak(tmp_path, 3600.0, 2)) < MOST_GROWTH_MB
