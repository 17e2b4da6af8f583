"""What panels say about hand-made states: each by a glyph and a word, whatever the colours are."""

import random
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from mixer.core.ops import ONE
from mixer.link.rehearse.report import Prompt, StepVerdict
from mixer.live.views.snapshot import Held, Snapshot
from mixer.live.views.status import LinkView, RuleView
from tests.tui.panels.panels import PROFILES, Set, changed, drawn, opened, set_of, words_of
from tui.drawers.faults import FaultsPanel
from tui.drawing.gate import FACES
from tui.panels.motors import GLYPHS


@pytest.fixture
def panels(tmp_path: Path) -> Iterator[Set]:
    """The sample carrier: six outputs, an actuator, physics; a moment after power-up."""
    path = PROFILES / "sample_carrier.toml"
    session = opened(path, tmp_path / "state")
    session.advance(0.09)
    session.advance(0.18)
    yield set_of(session, path)
    session.close()


def said(panels: Set, name: str, snapshot: Snapshot, width: int = 90, height: int = 30) -> str:
    """What a panel shows of a snapshot."""
    panels.show(snapshot)
    return words_of(drawn(panels.panels[name], width, height))


def now(panels: Set) -> Snapshot:
    """The real picture hand-made ones are made from."""
    return panels.bench.session.snapshot()


@pytest.mark.parametrize("state", FACES)
def test_guard_states(panels: Set, state: str) -> None:
    """Masthead and gate name the state with its glyph; the gate says why it is shut."""
    why = () if state == "live" else ("sticks are not at neutral",)
    view = changed(now(panels), guard=changed(now(panels).guard, state=state, why=why, arming=0.4))
    assert f"{FACES[state][0]} {state}" in said(panels, "masthead", view)
    gate = said(panels, "gate", view, 17)
    assert f"{FACES[state][0]} {state.upper()}" in gate
    assert ("neutral" in gate) == (state != "live")


@pytest.mark.parametrize("state", ["waiting", "connected", "quiet", "lost", "unreadable"])
def test_link_states(panels: Set, state: str) -> None:
    """The masthead names the state of a link in a word."""
    view = changed(now(panels), link=LinkView(state, "words"))
    assert f"link {state}" in said(panels, "masthead", view, 140, 1)


@pytest.mark.parametrize(
    ("width", "flipped"), [(60, False), (80, True), (109, True), (110, True), (240, True)]
)
def test_alarms_outlast_the_rest_of_the_masthead(panels: Set, width: int, flipped: bool) -> None:
    """With everything on at once, a broken rule, held time, state and clock still show at every width."""
    view = now(panels)
    crowded = changed(
        view,
        robot="R" * 60,
        time_s=3599.99,
        flipped=flipped,
        guard=changed(view.guard, state="searching"),
        rules=(RuleView("r", "words", now=True, count=3),),
        faults=("a", "b"),
        link=LinkView("unreadable", "words"),
        transport=changed(view.transport, playing=False, recording="x.csv"),
        tuning=changed(view.tuning, saved=False, changed=12),
    )
    text = said(panels, "masthead", crowded, width, 1)
    for words in ("✕ rule broken", "‖ paused", "59:59.99", "searching"):
        assert words in text


@pytest.mark.parametrize("kind", GLYPHS)
def test_what_holds_a_motor_back(panels: Set, kind: str) -> None:
    """Glyph and words beside the motor, in the roomy form and in the tight one; of the guard once above."""
    view = now(panels)
    held = (Held(kind, f"because of {kind}"),)
    view = changed(view, outputs=tuple(changed(output, held=held) for output in view.outputs))
    roomy = said(panels, "motors", view)
    assert roomy.count(f"{GLYPHS[kind]} because of {kind}") == (1 if kind == "guard" else 6)
    assert roomy.count(GLYPHS[kind]) >= 6
    tight = said(panels, "motors", view, 60, 7)
    assert tight.count(GLYPHS[kind]) >= 6


def test_every_reason_has_its_own_glyph() -> None:
    """No two things that hold an output back look the same."""
    assert len(set(GLYPHS.values())) == len(GLYPHS)


def test_a_wire_is_fresh_late_or_lost(panels: Set) -> None:
    """The receiver's rows tell by glyph and by word, and name a pulse that is not valid."""
    view = now(panels)
    plain = {"missing": False, "lost": False, "good": True, "age_ms": 4}
    for words, values in (
        ("● fresh", plain),
        ("◐ gap 80 ms", plain | {"missing": True, "age_ms": 80}),
        ("○ lost 260 ms", plain | {"missing": True, "lost": True, "age_ms": 260}),
    ):
        glyph, _, word = words.partition(" ")
        shown = changed(view, channels=tuple(changed(channel, **values) for channel in view.channels))
        text = said(panels, "receiver", shown)
        assert text.count(word) == text.count(glyph) == len(panels.panels["receiver"].entries())  # type: ignore[attr-defined]
    wrong = tuple(changed(channel, good=False, arrived_us=2600) for channel in view.channels)
    assert "2600 µs is not valid" in said(panels, "receiver", changed(view, channels=wrong))


def test_over_range_is_counted(panels: Set) -> None:
    """The mix that asks for more than there is shows a sign, the number, and how many outputs it is."""
    view = now(panels)
    first, *rest = view.outputs
    over = (changed(first, mixed=2 * ONE, blended=ONE), *(changed(one, mixed=0) for one in rest))
    text = said(panels, "mixed", changed(view, outputs=over))
    assert "▲ 1 over" in text
    assert "▲+200" in text.replace(" ", "")


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"blocked_in": True, "in_closed": True}, "◆ at its inner stop"),
        ({"blocked_out": True, "out_closed": True}, "◆ at its outer stop"),
        ({"blocked_in": True}, "|◀ ran in too long"),
        ({"blocked_out": True}, "▶| ran out too long"),
        ({"blocked_in": True, "blocked_out": True}, "|◀ ▶| both ways blocked"),
        ({"fault": True}, "✕ both end stops closed"),
    ],
)
def test_actuators(panels: Set, values: dict[str, bool], words: str) -> None:
    """Blocked directions and a stop fault stand in words below the travel."""
    view = now(panels)
    free = {"blocked_in": False, "blocked_out": False, "in_closed": False, "out_closed": False}
    shown = changed(view, actuators=tuple(changed(one, **free | values) for one in view.actuators))
    text = said(panels, "body", shown)
    assert text.count(words) == len(view.actuators) > 0
    drawn_once = text.replace("◆ at its", "").replace("◆ closed", "")
    assert drawn_once.count("◆") == len(view.actuators) * sum("closed" in key for key in values)


def test_heat_and_battery(panels: Set) -> None:
    """Near and past the limit have glyphs; a battery that has been cut is told."""
    view = now(panels)
    assert view.physics is not None
    limits = (100.0,) * 6
    heats = (20.0, 86.0, 140.0, None, 20.0, 20.0)
    physics = changed(view.physics, winding_c=heats, winding_limit_c=limits, cut=True, charge=0.05)
    text = said(panels, "body", changed(view, physics=physics))
    assert [line for line in text.splitlines() if "140/100 °C" in line and "✕" in line]
    assert [line for line in text.splitlines() if "86/100 °C" in line and "▲" in line]
    assert "✕ cut" in text
    assert "5%" in text


def test_rules_and_faults_in_the_diary(panels: Set) -> None:
    """All well, was broken, broken now: three glyphs and three wordings; faults are named."""
    view = now(panels)
    assert "✓ no rule broken so far" in said(panels, "diary", view)
    rules = tuple(RuleView(key, f"rule {key}", now=key == "a", count=7) for key in "ab")
    fault = panels.bench.session.faults.choices[0]
    text = said(panels, "diary", changed(view, rules=rules, faults=(fault.key,)))
    assert "✕ rule broken now (7 ticks): rule a" in text
    assert "▲ rule was broken (7 ticks): rule b" in text
    assert f"▲ broken: {fault.words}"[:40] in text


def test_a_fault_that_a_chip_cannot_have_is_told_by_name(panels: Set) -> None:
    """In the list's words, and where somebody tries; without a chip it can be broken again."""
    faults, panel = panels.bench.session.faults, panels.panels["faults"]
    assert isinstance(panel, FaultsPanel)
    toggle = next(command.run for command in panel.commands if command.name == "toggle")
    panel.at = next(at for at, choice in enumerate(faults.choices) if choice.key == "slow-clock.10")
    faults.put_on_chip(True)
    text = said(panels, "faults", now(panels))
    told = toggle(panel)

    assert "No simulated chip here can have its clock turned" in " ".join(text.split())
    assert str(told).startswith("not broken: The board's clock runs 10 % slow")
    assert faults.active == ()
    faults.put_on_chip(False)
    assert str(toggle(panel)).startswith("broken: ")
    assert faults.active == ("slow-clock.10",)


def test_a_click_is_on_an_entry_or_on_none(panels: Set) -> None:
    """On the title or on the words below, it does nothing to entries that are out of sight."""
    panel = panels.panels["faults"]
    assert isinstance(panel, FaultsPanel)
    text = words_of(drawn(panel, 90, 12)).splitlines()
    last = next(row for row, line in enumerate(text) if "───" in line)
    on = {row: panel.clicked(SimpleNamespace(y=row)) and panel.at for row in range(len(text))}

    assert panel.count > len(text)
    assert 1 < last < len(text) - 1
    assert [row for row, at in on.items() if at is not False] == list(range(1, last))
    assert [on[row] for row in range(1, last)] == list(range(last - 1))


def test_the_floor(panels: Set) -> None:
    """Slipping wheels are counted; without physics it says what to add to the profile."""
    view = now(panels)
    assert view.physics is not None
    wheels = tuple(changed(wheel, slipping=True) for wheel in view.physics.wheels)
    text = said(panels, "floor", changed(view, physics=changed(view.physics, wheels=wheels)))
    assert f"▲ {len(wheels)} slip" in text
    assert "[motor], [battery], [chassis]" in said(panels, "floor", changed(view, physics=None))
    assert "no actuators, no battery" in said(panels, "body", changed(view, physics=None, actuators=()))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"playing": True, "ended": False}, "▶ plays"),
        ({"playing": False, "ended": False}, "‖ paused"),
        ({"playing": False, "ended": True}, "■ ended"),
    ],
)
def test_the_transport(panels: Set, values: dict[str, bool], words: str) -> None:
    """It plays, is paused, or has ended; the times stand beside the bar."""
    view = now(panels)
    moving = changed(view.transport, mode="replay", position_s=61.5, length_s=180.0, log="a.csv", **values)
    text = said(panels, "transport", changed(view, transport=moving), 100, 2)
    assert words in text
    assert "61.50 of 180.00 s" in text
    assert "a.csv" in text


def test_a_refused_value_is_told_in_the_drawer(panels: Set) -> None:
    """Why a value was not taken stands below the list, with its sign."""
    view = now(panels)
    refused = changed(view.tuning, refused="expo 3 is above 1: use 0 to 1")
    assert "✕ expo 3 is above 1" in said(panels, "tune", changed(view, tuning=refused))


def test_words_of_the_foot(panels: Set) -> None:
    """What is said last stands above the keys with a sign for its level, and is gone after a while."""
    for level, glyph in (("note", "·"), ("warn", "▲"), ("bad", "✕")):
        panels.bench.say(f"some {level}", level)
        assert f"{glyph} some {level}" in said(panels, "keys", now(panels), 80, 2)
    panels.bench.message = ("gone", "bad", 0.0)
    assert "gone" not in said(panels, "keys", now(panels), 80, 2)


def test_a_rehearsal(panels: Set) -> None:
    """The prompt with its answers, then every verdict with a sign of its own; over, it says how it went."""
    outcomes = {"passed": "✓", "failed": "✕", "unclear": "▲"}
    verdicts = [StepVerdict(f"step {name}", name, "what was seen") for name in outcomes]  # type: ignore[arg-type]
    prompt = Prompt("off", "switch the transmitter off", ("yes", "no"))
    panels.bench.rehearsing = SimpleNamespace(  # type: ignore[assignment]
        shown=lambda: prompt, verdicts=verdicts, passed=False, guard="live", broken_off=""
    )
    text = said(panels, "rehearse", now(panels))
    assert "switch the transmitter off" in text
    assert "[y]es   [n]o" in text
    for name, glyph in outcomes.items():
        assert f"{glyph} step {name}: {name}" in text
    panels.bench.rehearsing.shown = lambda: None  # type: ignore[method-assign,union-attr]
    assert "✕ not every step passed" in said(panels, "rehearse", now(panels))


def test_no_number_breaks_a_row(panels: Set) -> None:
    """Physics gone wild, hours of time and long names neither raise nor shift a cell."""
    dice, view = random.Random(9), now(panels)
    assert view.physics is not None
    for _ in range(60):
        wild = [dice.choice((0.0, -1e9, 1e9, 1e-9, dice.uniform(-200, 200))) for _ in range(8)]
        heat = tuple(dice.choice((None, *wild)) for _ in view.outputs)
        physics = changed(
            view.physics, x_m=wild[0], y_m=wild[1], heading_rad=wild[2], speed_mps=wild[3],
            turn_radps=wild[4], battery_v=wild[5], battery_a=wild[6], charge=wild[7], winding_c=heat,
            winding_limit_c=tuple(dice.choice((None, 1e-6, 90.0, 1e9)) for _ in heat),
        )  # fmt: skip
        outputs = tuple(
            changed(output, mixed=dice.randint(-9 * ONE, 9 * ONE), command=dice.randint(-ONE, ONE))
            for output in view.outputs
        )
        panels.show(changed(view, physics=physics, outputs=outputs, time_s=1e6, robot="é漢\x1b" * 9))
        width, height = dice.randint(1, 90), dice.randint(1, 30)
        for name, panel in panels.panels.items():
            rows = drawn(panel, width, height)
            assert [sum(len(text) for text, _ in row) for row in rows] == [width] * height, name
            assert all(text.isprintable() for row in rows for text, _ in row), name
