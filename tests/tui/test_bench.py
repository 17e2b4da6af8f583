"""The bench as a person uses it: what keys and mouse do, asserted on the robot's state."""

import asyncio
import csv
import shutil
from collections.abc import Awaitable, Callable, Sequence
from itertools import product
from pathlib import Path

import pytest

from mixer.live.bench.session import open_session
from mixer.live.views.status import LinkView
from mixer.profile.feel.feelings import FEELINGS
from mixer.profile.profile import load_profile
from tests.lengths import cases
from tests.tui.driving import PROFILES, Driven, bench
from tests.tui.panels.panels import words_of
from tui.dialogs.help import HelpPage
from tui.dialogs.windows import Ask, AskText
from tui.screens.bench import PANELS
from tui.screens.bench_keys import BENCH_COMMANDS

LOG = PROFILES / "logs" / "carrier_two_loads.csv"
Act = Callable[[Driven], Awaitable[None]]


def drive(folder: Path, act: Act, **how: object) -> None:
    """Run one story on a bench of its own."""

    async def story() -> None:
        async with bench(folder, **how) as driven:  # type: ignore[arg-type]
            await act(driven)

    asyncio.run(story())


def test_keys_nudge_a_stick_and_it_stays(tmp_path: Path) -> None:
    """Key w moves the throttle by ten per cent, W by one, c centres; the motors follow once live."""

    async def act(driven: Driven) -> None:
        await driven.go_live()
        await driven.press("w", "w", "W")
        assert driven.session.sticks.value("throttle") == pytest.approx(0.21)
        driven.run(1.0)
        assert all(output.command > 0 for output in driven.snapshot.outputs[:4])
        await driven.press("c")
        driven.run(0.5)
        assert driven.session.sticks.value("throttle") == 0.0
        assert all(output.command == 0 for output in driven.snapshot.outputs)

    drive(tmp_path, act)


def test_a_held_key_runs_the_stick_and_springs_back(tmp_path: Path) -> None:
    """After Z, a key that repeats keeps the stick at its end; when the repeats end it springs back."""

    async def act(driven: Driven) -> None:
        await driven.press("Z", "w")
        driven.run(0.5)
        for _ in range(6):
            await driven.press("w")
            driven.run(0.1)
        assert driven.session.sticks.value("throttle") == 1.0
        driven.run(1.5)
        assert driven.session.sticks.value("throttle") == 0.0

    drive(tmp_path, act)


def test_nothing_moves_before_arming(tmp_path: Path) -> None:
    """Sticks pushed before the arm switch goes on move nothing, and the guard says why."""

    async def act(driven: Driven) -> None:
        await driven.press("w", "w", "w")
        driven.run(1.0)
        await driven.press("1")
        driven.run(1.5)
        assert driven.snapshot.guard.state == "resting"
        assert driven.snapshot.guard.why
        assert all(output.command == 0 for output in driven.snapshot.outputs)

    drive(tmp_path, act)


def test_a_pad_is_dragged_and_springs_back(tmp_path: Path) -> None:
    """Mouse down and move set both sticks of a pad at once; letting go springs them back."""

    async def act(driven: Driven) -> None:
        await driven.go_live()
        hands = driven.screen.panels["hands"]
        grip = hands.grips(hands.size.width, hands.size.height - 1)[0].place
        corner = (grip.x + grip.width - 2, grip.y + 2)
        await driven.pilot.mouse_down(hands, offset=corner)
        assert driven.session.sticks.value("throttle") > 0.6
        assert driven.session.sticks.value("steering") > 0.6
        await driven.pilot.mouse_up(hands, offset=corner)
        driven.run(1.0)
        assert driven.session.sticks.value("throttle") == 0.0

    drive(tmp_path, act)


def test_a_value_is_tuned_and_felt_on_the_next_tick(tmp_path: Path) -> None:
    """Typing a limit in the tune drawer holds the motor there; undo and redo take it back and again."""

    async def act(driven: Driven) -> None:
        await driven.go_live()
        await driven.press("2", "2")
        await driven.press(*("w" * 10))
        driven.run(2.0)
        before = driven.snapshot.outputs[0].command
        await driven.press("t")
        tune = driven.screen.panels["tune"]
        keys = [knob.key for knob in tune.shown]
        tune.move(keys.index("output.left_front.limit"))
        await driven.press("0", ".", "3", "enter")
        driven.run(0.5)
        held = driven.snapshot.outputs[0].command
        assert held == pytest.approx(0.3 * 16384, abs=1)
        assert held < before
        assert driven.snapshot.tuning.changed == 1
        await driven.press("u")
        driven.run(1.0)
        assert driven.snapshot.outputs[0].command == before
        await driven.press("U")
        driven.run(1.0)
        assert driven.snapshot.outputs[0].command == held

    drive(tmp_path, act)


def test_an_impossible_value_is_refused_in_words(tmp_path: Path) -> None:
    """A limit of 7 stays what it was, and the drawer says why."""

    async def act(driven: Driven) -> None:
        await driven.press("t")
        tune = driven.screen.panels["tune"]
        tune.move([knob.key for knob in tune.shown].index("output.left_front.limit"))
        await driven.press("7", "enter")
        assert tune.said
        assert driven.session.tuning.value("output.left_front.limit") == 1.0

    drive(tmp_path, act)


def test_two_tunings_change_over_with_one_key(tmp_path: Path) -> None:
    """Key x changes between A and B; each keeps its own values."""

    async def act(driven: Driven) -> None:
        driven.session.tuning.set("shape.soft.expo", 0.9)
        await driven.press("x")
        assert driven.snapshot.tuning.side == "B"
        assert driven.session.tuning.value("shape.soft.expo") != 0.9
        await driven.press("x")
        assert driven.session.tuning.value("shape.soft.expo") == 0.9

    drive(tmp_path, act)


def test_saving_keeps_comments_and_a_backup(tmp_path: Path) -> None:
    """^s writes the value into the profile, every comment stays, the old file is kept beside it; once."""

    async def act(driven: Driven) -> None:
        before = driven.path.read_text()
        driven.session.tuning.set("shape.soft.expo", 0.55)
        await driven.press("ctrl+s")
        after = driven.path.read_text()
        assert load_profile(driven.path).robot().shape["soft"].expo == 0.55
        assert [line for line in before.splitlines() if line.startswith("#")] == [
            line for line in after.splitlines() if line.startswith("#")
        ]
        await driven.press("ctrl+s")
        assert "nothing to save" in driven.app.bench.message[0]
        assert len(list(tmp_path.glob("sample_carrier.toml*"))) == 2
        assert driven.snapshot.tuning.saved

    drive(tmp_path, act)


def test_breaking_the_radio_stops_the_robot(tmp_path: Path) -> None:
    """A fault put in by key stops every motor in the promised time; rules hold; mending re-arms nothing."""

    async def act(driven: Driven) -> None:
        await driven.go_live()
        await driven.press("w", "w", "w", "w")
        driven.run(1.0)
        await driven.press("b", "enter")
        assert driven.snapshot.faults
        driven.run(0.4)
        assert driven.snapshot.guard.state == "stopped"
        assert all(output.command == 0 for output in driven.snapshot.outputs)
        assert not driven.snapshot.rules
        await driven.press("0")
        driven.run(1.0)
        assert driven.snapshot.guard.state == "resting"
        assert "no rule broken so far" in driven.text()

    drive(tmp_path, act)


def test_a_log_is_replayed_held_stepped_and_scrubbed(tmp_path: Path) -> None:
    """A log is opened, played, held, stepped on and back, taken to an event, left for the hands."""

    async def act(driven: Driven) -> None:
        await driven.press("O")
        assert isinstance(driven.app.screen, AskText)
        driven.app.screen.query_one("#typed").value = str(LOG)
        await driven.press("enter")
        assert driven.snapshot.transport.mode == "replay"
        assert "transport" in driven.screen.places
        await driven.press("space")
        driven.run(4.0)
        assert driven.snapshot.guard.state == "live"
        await driven.press("space")
        at = driven.session.replay.position_s
        await driven.press("full_stop")
        assert driven.session.replay.position_s == pytest.approx(at + 0.002)
        await driven.press("comma")
        assert driven.session.replay.position_s == pytest.approx(at)
        await driven.press("greater_than_sign")
        assert driven.snapshot.transport.speed == 2.0
        await driven.press("N")
        assert driven.session.replay.position_s < at
        assert driven.screen.focused is driven.screen.panels["transport"]
        await driven.press("right")
        assert driven.session.replay.position_s > at
        await driven.press("M")
        assert driven.snapshot.transport.mode == "hand"
        await driven.press("M")
        assert driven.snapshot.transport.mode == "replay"

    drive(tmp_path, act)


def test_pads_follow_whoever_has_the_sticks(tmp_path: Path) -> None:
    """In a replay the pads stand where the log's sticks stand, and cannot be dragged."""

    async def act(driven: Driven) -> None:
        driven.session.open_log(LOG)
        driven.session.replay.seek(20.0)
        driven.session.replay.play()
        hands = driven.screen.panels["hands"]
        driven.run(0.5)
        values = {stick.name: stick.scaled / 16384 for stick in driven.snapshot.sources}
        assert {name: hands._value(name) for name in values} == values
        assert any(values.values())
        await driven.pilot.mouse_down("#hands", offset=(10, 5))
        assert driven.session.sticks.value("throttle") == 0.0

    drive(tmp_path, act)


class Transmitter:
    """A link that hears one frame again and again."""

    mode = "link"

    def __init__(self, pulses: Sequence[int]) -> None:
        self.pulses = pulses

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """A frame every tenth tick."""
        return [*(pulse if tick % 10 == 0 else 0 for pulse in self.pulses), *readings]

    def view(self) -> LinkView:
        """Connected."""
        return LinkView("connected", "a board is connected")

    def change_plan(self, plan: object) -> None:
        """The same for every plan."""

    def follow(self, tunings: object) -> None:
        """The same for every tuning."""

    def news(self) -> list[tuple[str, str]]:
        """Nothing."""
        return []

    def close(self) -> None:
        """Nothing to give back."""


def test_pads_follow_a_transmitter(tmp_path: Path) -> None:
    """Over a link the pads stand where the pulses say, as dots and as numbers; hands do not matter."""

    async def act(driven: Driven) -> None:
        driven.session.sticks.set("throttle", -1.0)
        plan = driven.session.robot.plan
        stick = next(stick for stick in plan.sticks if stick.name == "throttle")
        pulses = [channel.rest_us for channel in plan.channels]
        pulses[stick.channel] = stick.centre_us + stick.high_span_us // 2
        driven.session.connect(Transmitter(pulses))
        driven.run(0.5)
        hands = driven.screen.panels["hands"]
        assert hands._value("throttle") == pytest.approx(0.5, abs=0.01)
        assert "throttle  +50" in words_of(hands._drawn)

    drive(tmp_path, act)


def test_no_key_has_two_meanings_in_one_place() -> None:
    """In the bench's table and in every panel's own."""
    for commands in (BENCH_COMMANDS, *(panel.commands for panel in PANELS)):
        keys = [key for command in commands for key in command.keys]
        assert len(keys) == len(set(keys)), [key for key in keys if keys.count(key) > 1]


def test_what_happens_on_the_bench_is_recorded(tmp_path: Path) -> None:
    """R asks for a file, records, and R again ends it; the log has a column for every channel."""
    path = tmp_path / "out.csv"

    async def act(driven: Driven) -> None:
        await driven.press("R")
        typed = driven.app.screen.query_one("#typed")
        typed.value = str(path)
        await driven.press("enter")
        driven.run(1.0)
        assert driven.snapshot.transport.recording
        await driven.press("R")
        assert not driven.snapshot.transport.recording

    drive(tmp_path, act)
    with path.open(newline="") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))
    assert {"t_ms", "throttle", "steering", "arm"} <= set(rows[0])
    assert len(rows) > 40


def test_explain_follows_an_output(tmp_path: Path) -> None:
    """Key e opens the chain of the output looked at, from pulse to wire; arrows go to the next output."""

    async def act(driven: Driven) -> None:
        await driven.go_live()
        await driven.press("e")
        assert driven.app.bench.looking.drawer == "explain"
        for words in ("left_front", "pulse", "deadband", "wire"):
            assert words in driven.text()
        await driven.press("down")
        assert driven.app.bench.output.name == "left_rear"
        assert driven.app.bench.looking.lit
        await driven.press("escape")
        assert (driven.app.bench.looking.drawer, driven.app.bench.looking.lit) == ("", False)

    drive(tmp_path, act)


@pytest.mark.parametrize("size", [(80, 24), pytest.param((200, 50), marks=pytest.mark.long)])
def test_every_panel_explains_itself_and_can_be_jumped_to(tmp_path: Path, size: tuple[int, int]) -> None:
    """Key g and a panel's letter go there at any size, and F1 shows its help and keys."""

    async def act(driven: Driven) -> None:
        for panel in list(driven.screen.panels.values()):
            if not panel.letter or panel.id == "transport":
                continue
            if panel.id in ("tune", "faults", "explain") or driven.app.bench.looking.drawer:
                driven.screen.open_drawer("")
            await driven.press("g", panel.letter, "f1")
            if panel.id == "mixed" and "mixed" not in driven.screen.places:
                await driven.press("escape")
                continue
            assert driven.screen.focused is panel
            assert isinstance(driven.app.screen, HelpPage)
            assert panel.help.strip()
            await driven.press("escape")
            assert driven.app.screen is driven.screen

    drive(tmp_path, act, size=size)


SIZES = ((80, 24), (120, 36), (160, 45), (240, 70))


@pytest.mark.parametrize(
    ("name", "size"),
    cases(
        [
            ("long_crawler", SIZES[0]),
            ("tank_pair", SIZES[2]),
        ],
        [
            *product(["tank_pair"], (SIZES[0], SIZES[1], SIZES[-1])),
            *product(["long_crawler"], SIZES[1:]),
            *product(["holonomic_trio"], SIZES),
        ],
    ),
)
def test_every_page_of_every_robot_draws(tmp_path: Path, size: tuple[int, int], name: str) -> None:
    """All pages and drawers draw at every size, with no row longer than the screen."""

    async def act(driven: Driven) -> None:
        driven.run(0.3)
        for key in ("v", "v", "v", "v", "t", "t", "b", "b", "e", "e", "T"):
            await driven.press(key)
            driven.run(0.2)
            for panel_name, place in driven.screen.places.items():
                for row in driven.screen.panels[panel_name]._drawn:
                    assert sum(len(text) for text, _ in row) == place.width

    drive(tmp_path, act, name=name, size=size)


def test_leaving_with_unsaved_edits_asks(tmp_path: Path) -> None:
    """Key q asks about unsaved edits; kept, they leave the file alone and are offered at the next start."""
    before = (PROFILES / "sample_carrier.toml").read_text()

    async def edit(driven: Driven) -> None:
        driven.session.tuning.set("shape.soft.expo", 0.9)
        await driven.press("q")
        assert isinstance(driven.app.screen, Ask)
        await driven.pilot.click("#answer-keep")

    async def again(driven: Driven) -> None:
        assert isinstance(driven.app.screen, Ask)
        await driven.pilot.click("#answer-take")
        await driven.pilot.pause()
        assert driven.session.tuning.value("shape.soft.expo") == 0.9

    drive(tmp_path, edit)
    assert (tmp_path / "sample_carrier.toml").read_text() == before
    drive(tmp_path, again)


def test_leaving_can_save_throw_away_or_stay(tmp_path: Path) -> None:
    """Both sides are listed; thrown away nothing is offered again, saved the file has it, staying stays."""
    path = tmp_path / "sample_carrier.toml"

    async def asked(driven: Driven) -> None:
        tuning = driven.session.tuning
        tuning.set("shape.soft.expo", 0.9)
        tuning.swap()
        tuning.set("shape.dash.expo", 0.1)
        await driven.press("q")
        assert isinstance(driven.app.screen, Ask)
        assert "side A: 1 value differs" in driven.app.screen._words
        assert "shape.dash.expo: 0.3 -> 0.1" in driven.app.screen._words
        await driven.press("escape")
        assert driven.app.is_running

    async def thrown_away(driven: Driven) -> None:
        await asked(driven)
        await driven.press("q")
        await driven.pilot.click("#answer-drop")

    async def saved(driven: Driven) -> None:
        assert not isinstance(driven.app.screen, Ask)
        await asked(driven)
        await driven.press("q")
        await driven.pilot.click("#answer-save")

    async def other_side(driven: Driven) -> None:
        assert isinstance(driven.app.screen, Ask)
        assert "shape.soft.expo: 0.4 -> 0.9" in driven.app.screen._words

    drive(tmp_path, thrown_away)
    assert load_profile(path).robot().shape["dash"].expo == 0.3
    drive(tmp_path, saved)
    assert load_profile(path).robot().shape["dash"].expo == 0.1
    drive(tmp_path, other_side)


def test_a_change_on_the_disk_is_told_and_can_be_read(tmp_path: Path) -> None:
    """Top row and foot say so; ^s asks, r reads it, F saves elsewhere, a name that is taken is refused."""

    async def act(driven: Driven) -> None:
        driven.session.tuning.set("shape.soft.expo", 0.9)
        driven.run(1.1)
        driven.path.write_text(driven.path.read_text() + "# theirs\n")
        driven.run(1.1)
        assert "file changed (r)" in driven.text()
        assert "has changed on the disk" in driven.text()
        await driven.press("ctrl+s")
        assert isinstance(driven.app.screen, Ask)
        assert "has changed on the disk" in driven.app.screen._words
        await driven.press("escape")
        assert "# theirs" in driven.path.read_text()
        await driven.press("F")
        await driven.press("enter")
        assert load_profile(tmp_path / "sample_carrier_2.toml").robot().shape["soft"].expo == 0.9
        await driven.press("F")
        await driven.press("enter")
        assert "there already" in driven.app.bench.message[0]
        await driven.press("r", "enter")
        driven.run(1.1)
        assert "file changed" not in driven.text()
        assert driven.session.tuning.value("shape.soft.expo") == 0.9
        await driven.press("ctrl+s")
        assert "# theirs" in driven.path.read_text()
        assert load_profile(driven.path).robot().shape["soft"].expo == 0.9

    drive(tmp_path, act)


def test_another_window_is_told_at_once(tmp_path: Path) -> None:
    """The second asks at its start; the first hears of it within a second."""
    other = open_session(
        Path(shutil.copy(PROFILES / "sample_carrier.toml", tmp_path)), now_s=0.0,
        state_folder=tmp_path / "state", window="the window in pts/9",
    )  # fmt: skip

    async def second(driven: Driven) -> None:
        assert isinstance(driven.app.screen, Ask)
        assert "the window in pts/9" in driven.app.screen._words
        await driven.press("enter")
        driven.run(0.5)
        assert "1 other window" in driven.text()

    drive(tmp_path, second)
    other.close()

    async def first(driven: Driven) -> None:
        driven.run(0.5)
        late = open_session(driven.path, now_s=0.0, state_folder=tmp_path / "state", window="a late one")
        driven.run(1.1)
        assert "a late one" in driven.app.bench.message[0]
        late.close()
        driven.run(1.1)
        assert driven.app.bench.others == ()

    drive(tmp_path, first)


def test_a_feeling_becomes_tuning_b(tmp_path: Path) -> None:
    """The drawer shows what to turn for what is felt; enter makes B of it, x and u go back."""

    async def act(driven: Driven) -> None:
        await driven.press("f", "down")
        panel = driven.screen.panels["feel"]
        assert panel.at == 1
        panel.at = [feeling.words for feeling in FEELINGS].index("stops too hard") - 1
        await driven.press("down")
        assert "output.left_front.slew_down_ms: 80 -> 380" in driven.text()
        await driven.press("enter")
        tuning = driven.session.tuning
        assert (driven.snapshot.tuning.side, tuning.value("output.left_front.slew_down_ms")) == ("B", 380)
        assert tuning.value("output.right_rear.slew_down_ms") == 380
        assert "380 -> 680" in driven.text()
        await driven.press("x")
        assert tuning.value("output.left_front.slew_down_ms") == 80
        await driven.press("x", "u")
        assert tuning.value("output.left_front.slew_down_ms") == 80
        await driven.press("pagedown", "pagedown", "pagedown", "escape")
        assert panel.at == len(FEELINGS) - 1
        assert driven.app.bench.looking.drawer == ""

    drive(tmp_path, act, size=(120, 32))


def test_a_robot_without_keys_for_a_feeling_says_so(tmp_path: Path) -> None:
    """Nothing is tried, and the list stays."""

    async def act(driven: Driven) -> None:
        await driven.press("f")
        driven.screen.panels["feel"].at = [each.words for each in FEELINGS].index("tool moves too fast")
        await driven.press("enter")
        assert "nothing to turn" in driven.text()
        assert driven.snapshot.tuning.side == "A"

    drive(tmp_path, act, name="tank_pair", size=(80, 24))


@pytest.mark.parametrize("size", [(80, 24), (200, 50)])
def test_an_example_says_what_to_try_first(tmp_path: Path, size: tuple[int, int]) -> None:
    """Without a profile of one's own it says what is on this screen; enter shows what the bench is for."""

    async def act(driven: Driven) -> None:
        assert isinstance(driven.app.screen, Ask)
        words = driven.app.screen._words
        assert ("drag in the left pad" in words) == ("hands" in driven.screen.places)
        assert ("v leafs" in words) == (size == (80, 24))
        assert "press 1 for the arm switch" in words
        await driven.press("enter")
        assert driven.snapshot.transport.mode == "demo"
        await driven.press("x")
        assert driven.app.screen is driven.screen
        assert driven.snapshot.transport.mode == "hand"

    drive(tmp_path, act, size=size, example=True)


def test_the_palette_names_every_command(tmp_path: Path) -> None:
    """Everything a key does can be found by name."""

    async def act(driven: Driven) -> None:
        titles = [command.title for command in driven.app.get_system_commands(driven.screen)]
        for words in ("faults", "tuning", "replay", "record", "loadout", "light or dark"):
            assert any(words in title for title in titles), words

    drive(tmp_path, act)


def test_another_loadout_is_taken_up(tmp_path: Path) -> None:
    """Key o goes to the next loadout: without the tray there are two outputs fewer."""

    async def act(driven: Driven) -> None:
        count = len(driven.snapshot.outputs)
        await driven.press("o")
        driven.run(0.2)
        assert driven.snapshot.loadout == "bare"
        assert len(driven.snapshot.outputs) == count - 2

    drive(tmp_path, act)
