"""The course on the bench: opened by a key, driven by the simulated driver, compared blindly."""

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest

from mixer.course.desk.desk import Desk
from tests.course.driven import feeling, text_of
from tests.course.driver import Driver
from tests.tui.driving import Driven, bench
from tui.drawers.course import progress_of


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs are kept in the test's folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def story(folder: Path, play: Callable[[Driven], object]) -> None:
    """Play on a small screen with the small robot, its driver named."""

    async def told() -> None:
        async with bench(folder, "tank_pair", size=(80, 24)) as driven:
            await driven.press("C")
            while not desk_of(driven).tasks:
                await asyncio.sleep(0.01)
            await play(driven)  # type: ignore[misc]

    asyncio.run(told())


def desk_of(driven: Driven) -> Desk:
    """The course of a bench."""
    desk = driven.app.bench.desk
    assert desk is not None
    return desk


async def half_turn(driven: Driven, seed: int) -> None:
    """Put the robot at the start, and turn it."""
    await driven.press("enter")
    desk = desk_of(driven)
    if not desk.running:
        await driven.press(*"Ada", "enter")
    assert desk.running
    assert desk.task is not None
    driven.session._source = Driver(driven.session.robot, desk.task, feeling(text_of("tank_pair")), seed)
    driven.run(1.0)
    assert "touched" not in driven.text()
    while desk.running:
        driven.run(0.3)
    driven.session.use("hand")
    driven.run(0.1)


def test_a_task_is_chosen_driven_and_measured(tmp_path: Path) -> None:
    """Everything shows at 80x24: the tasks, the way, the clock, the numbers of the run, who drives."""

    async def play(driven: Driven) -> None:
        await driven.press("down", "down", "down", "down")
        for words in ("▸ half turn", "figure of eight", "enter: to the start"):
            assert words in driven.text()
        await half_turn(driven, 1)
        for words in ("driver: Ada", "time", "off the way", "corrections", "charge", "°"):
            assert words in driven.text()
        assert len(list((tmp_path / "data").rglob("turn-0001.csv"))) == 1
        await driven.press("enter")
        assert "go: your first move" in driven.text()
        await driven.press("escape")
        assert "does not count: given up" in driven.text()
        await driven.press("escape")
        assert driven.app.bench.looking.drawer == ""

    story(tmp_path, play)


@pytest.mark.long
def test_two_tunings_are_compared_without_a_word_of_which(tmp_path: Path) -> None:
    """What is asked is chosen first; no panel says A or B while it runs; the end says what can be told."""

    async def play(driven: Driven) -> None:
        driven.session.tuning.set("shape.soft.expo", 0.6)
        driven.session.tuning.swap()
        await driven.press("down", "down", "down", "down", "B", "enter")
        assert desk_of(driven).blind is not None
        await half_turn(driven, 1)
        assert driven.snapshot.tuning.side == "?"
        assert not {"tuning A", "tuning B"} & set(driven.text().split("  "))
        assert "run 2 of pair 1" in driven.text()
        await driven.press("t", "v", "escape")
        assert set(driven.screen.places) <= {"course", "masthead", "keys", "caption"}
        await driven.press("B", "down", "enter")
        assert desk_of(driven).blind is None
        assert "no pair was driven" in driven.text()
        driven.run(0.1)
        assert driven.snapshot.tuning.side in ("A", "B")

    story(tmp_path, play)


def test_how_many_more_is_told_in_words() -> None:
    """Too early to say, so many pairs more, enough."""
    assert progress_of(1, 3, None) == "blind: run 2 of pair 2; how many it takes shows after four pairs"
    assert progress_of(4, 8, 9).endswith("about 5 more pairs")
    assert progress_of(4, 9, 5).endswith("about 1 more pair")
    assert progress_of(6, 12, 6) == "6 pairs driven: enough. B ends it"
