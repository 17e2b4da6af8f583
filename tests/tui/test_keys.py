"""Keys: one meaning in one place, each said once in the help, each telling what it did."""

import asyncio
from collections import Counter
from pathlib import Path

import pytest
from textual.geometry import Size

from tests.live.benches import LOGS
from tests.tui.driving import Driven, bench
from tui.bench.commands import Command, shown
from tui.dialogs.help import HelpPage, Section
from tui.dialogs.paths import completed
from tui.screens.bench import PANELS, BenchScreen
from tui.screens.bench_keys import BENCH_COMMANDS, GROUPS, PADS
from tui.screens.help import sections

MOVES = {"up", "down", "left", "right", "home", "end", "pageup", "pagedown", "enter", "escape", "backspace"}
"""Keys that go about within whatever panel is in focus."""
ANSWERS = set("ynds")
"""First letters of answers to the receiver test, which takes its sticks from the link."""
LOG = LOGS / "carrier_two_loads.csv"


def test_no_key_means_two_things_in_one_place() -> None:
    """In the bench's table and in every panel's own; only moves within a panel differ."""
    for commands in (BENCH_COMMANDS, *(panel.commands for panel in PANELS)):
        counted = Counter(key for command in commands for key in command.keys)
        assert [key for key, count in counted.items() if count > 1] == []
    everywhere = {key for command in BENCH_COMMANDS for key in command.keys}
    for panel in PANELS:
        own = {key.removeprefix("shift+") for command in panel.commands for key in command.keys} - MOVES
        assert own & everywhere <= (ANSWERS if panel.__name__ == "RehearsePanel" else set()), panel


def test_jump_letters_and_names_are_each_their_own() -> None:
    """No two panels share a letter, no two commands a name."""
    letters = [panel.letter for panel in PANELS if panel.letter]
    names = [command.name for command in BENCH_COMMANDS]
    assert len(letters) == len(set(letters))
    assert len(names) == len(set(names))


def keys_said(section: Section) -> list[str]:
    """Every key that the lines of a section name."""
    said: list[str] = []
    for keys, _ in section.rows:
        first, between, last = keys.partition(" to ")
        said += [str(at) for at in range(int(first), int(last) + 1)] if between else keys.split()
    return said


def test_help_names_each_key_once_and_only_those_that_do_something(tmp_path: Path) -> None:
    """At every panel, with a log and without: no key twice, none that can do nothing now, none left out."""

    def checked(driven: Driven) -> None:
        screen = driven.screen
        said = [
            key for part in sections(screen, GROUPS) if "key" in part.heading for key in keys_said(part)
        ]
        doubled = [key for key, count in Counter(said).items() if count > 1]
        assert doubled == [], driven.app.bench.focus
        shifted = {key.upper() for keys in PADS for key in keys}
        for command in screen.commands_now():
            listed = command.key in said or any(shown(key) in said for key in command.keys)
            listed = listed or set(command.key.split()) <= set(said)
            if set(command.keys) <= shifted:
                continue  # told beside the same letter: "with shift"
            assert listed == command.when(screen), (driven.app.bench.focus, command.name)

    async def story() -> None:
        async with bench(tmp_path, size=(80, 24)) as driven:
            for _ in range(2):
                for name in ("motors", "curve", "tune", "rehearse"):
                    await driven.press("g", driven.screen.panels[name].letter)
                    checked(driven)
                driven.session.open_log(LOG)
                driven.screen.paint_all()
            checked(driven)

    asyncio.run(story())


def test_what_cannot_be_done_here_is_not_said(tmp_path: Path) -> None:
    """No pages where all fits on one, no log's keys without a log, no second pad where there is none."""

    async def story() -> None:
        async with bench(tmp_path, "tank_pair", size=(200, 50)) as driven:
            said = [line for part in sections(driven.screen, GROUPS) for line in part.rows]
            assert not [
                line for line in said if line[0] in ("v", "n", "N", "<", ">", ",", "o", "G", "M", "2")
            ]
            assert not [line for line in said if "the right pad" in line[1]]
            assert ("◇  ◆", "an end stop: open, closed") in said
            driven.screen.open_drawer("tune")
            driven.screen.paint_all()
            assert "page" not in driven.text().splitlines()[-1]

    asyncio.run(story())


def test_help_is_searched_by_typing(tmp_path: Path) -> None:
    """Letters narrow it down, escape takes them back, then closes; q is a letter and leaves nothing."""

    async def story() -> None:
        async with bench(tmp_path, size=(80, 24)) as driven:
            await driven.press("f1")
            page = driven.app.screen
            assert isinstance(page, HelpPage)
            whole = len(page.shown())
            await driven.press(*"duty")
            left = [row for section in page.shown() for row in section.rows]
            assert any(sign == "53/255" for sign, _ in left)
            assert all("duty" in f"{sign} {words}".lower() for sign, words in left)
            await driven.press("q")
            assert page.shown() == []
            await driven.press("escape")
            assert len(page.shown()) == whole
            await driven.press("escape")
            assert driven.app.screen is driven.screen

    asyncio.run(story())


def acts(command: Command) -> bool:
    """Whether pressing its key is the act: answers, and what leaves, are told elsewhere."""
    return command.name not in ("leave", "help", "jump")


@pytest.mark.parametrize("part", range(3))
def test_each_key_tells_what_it_did(tmp_path: Path, part: int) -> None:
    """Every key of the bench brings words, a question, a drawer, or the demonstration, never silence."""

    async def story() -> None:
        async with bench(tmp_path, size=(80, 24)) as driven:
            state = driven.app.bench
            driven.session.open_log(LOG)
            if part == 1:
                driven.session.use("hand")
            driven.screen.paint_all()
            for command in [each for each in BENCH_COMMANDS if acts(each)][part::3]:
                state.message = ("", "note", 0.0)
                drawer = state.looking.drawer
                driven.screen.run_command(command)
                await driven.pilot.pause()
                told = state.message[0] or len(driven.app.screen_stack) > 2
                assert told or state.looking.drawer != drawer or state.demonstration, command.name
                while len(driven.app.screen_stack) > 2:
                    await driven.press("escape")

    asyncio.run(story())


def test_paths_complete(tmp_path: Path) -> None:
    """As far as all agree; a lone folder with its slash; nothing where nothing fits; dots when asked."""
    for name in ("drive_one.csv", "drive_two.csv", ".hidden"):
        (tmp_path / name).touch()
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "only.csv").touch()
    here = f"{tmp_path}/"

    assert completed(f"{here}d") == (f"{here}drive_", ["drive_one.csv", "drive_two.csv"])
    assert completed(f"{here}drive_t").text == f"{here}drive_two.csv"
    assert completed(f"{here}l").text == f"{here}logs/"
    assert completed(f"{here}logs/").text == f"{here}logs/only.csv"
    assert completed(f"{here}x") == (f"{here}x", ())
    assert ".hidden" not in completed(here).names
    assert completed(f"{here}.h").text == f"{here}.hidden"
    assert completed(f"{here}nowhere/x") == (f"{here}nowhere/x", ())


@pytest.mark.parametrize("size", [(80, 24), (200, 50)])
def test_arrows_move_in_a_log_from_the_start(tmp_path: Path, size: tuple[int, int]) -> None:
    """Opened with a log, its bar has the keys; after a drawer it has them again."""

    async def story() -> None:
        async with bench(tmp_path, size=size, prepare=lambda session: session.open_log(LOG)) as driven:
            await driven.press("right")
            assert driven.session.replay.position_s == pytest.approx(5.0)
            await driven.press("b", "escape", "right")
            assert driven.session.replay.position_s == pytest.approx(10.0)

    asyncio.run(story())


def test_tab_completes_a_log_to_open(tmp_path: Path) -> None:
    """Typed as far as it is the only one, tab and enter open the log; then the arrows move in it."""

    async def story() -> None:
        async with bench(tmp_path, size=(80, 24)) as driven:
            await driven.press("O")
            driven.app.screen.query_one("#typed").value = str(LOG)[:-8]
            await driven.press("tab", "enter")
            assert driven.snapshot.transport.mode == "replay"
            assert "sticks: log" in driven.text()
            await driven.press("right")
            assert driven.session.replay.position_s > 0

    asyncio.run(story())


def test_keys_typed_before_the_first_picture_count(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bench without a size yet opens and closes what it is told to, and has it when the size is known."""

    async def story() -> None:
        async with bench(tmp_path, size=(80, 24)) as driven:
            screen = driven.screen
            screen.places = {}
            with monkeypatch.context() as unsized:
                unsized.setattr(BenchScreen, "size", Size(0, 0))
                for name in ("tune", "", "tune"):
                    screen.open_drawer(name)
            screen.settle()
            await driven.press("right")
            assert driven.snapshot.tuning.changed == 1

    asyncio.run(story())
