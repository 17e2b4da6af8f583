"""`stickwright new --ask`: valid answers give a profile that `check` accepts, bad ones are asked again."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.cli.profile.asking import MOST_TRIES
from mixer.errors import OptionError
from mixer.examples.shipped import example_names
from mixer.laws.creep import creeps
from mixer.plant.from_profile import prepare
from mixer.profile.begin.questions import QUESTIONS, answered, channel_names
from mixer.profile.begin.writing import profile_text
from mixer.profile.profile import parse_profile
from mixer.sizing.contradictions import contradictions
from tests.cli.conftest import Run

NUMBERS = {
    "wheel_mm": (10, 1000), "track_mm": (30, 5000), "wheelbase_mm": (10, 8000), "motor_rpm": (5, 20_000),
    "stall_a": (0.1, 500), "capacity_ah": (0.05, 100), "mass_kg": (0.05, 500), "travel_mm": (1, 2000),
    "travel_s": (0.1, 50), "minutes": (0.5, 120),
}  # fmt: skip
"""What each question says may be answered; held here apart from it."""
CHOICES = {
    "layout": ("sides", "trio", "cross"), "wire": ("pulse", "duty"), "actuator_sticks": ("one", "each"),
    "end_stops": ("both", "out", "in", "none", "circuit"), "stop_switch": ("opens", "closes"),
    "pace": ("yes", "no"), "stop": ("cut", "ramp"),
}  # fmt: skip


def answer(draw: st.DrawFn, name: str, before: dict[str, Any]) -> str:
    """Any answer that will do, as typed."""
    if name in CHOICES:
        return draw(st.sampled_from(CHOICES[name]))
    if name in NUMBERS:
        return repr(draw(st.floats(*NUMBERS[name])))
    if name == "receiver":
        return " ".join(draw(st.permutations([*channel_names(before), "-", "-"])))
    side = before.get("motors", 2) // 2
    listed = {
        "motors": [str(each) for each in range(2, 17, 2)],
        "motors_per_channel": [str(each) for each in range(1, 9) if side % each == 0],
        "class_limit_kg": ["none", "0.15", "13.6"],
        "cells": [str(each) for each in range(1, 15)],
        "actuators": [str(each) for each in range(5)],
    }
    return draw(st.sampled_from(listed[name]))


@st.composite
def typed(draw: st.DrawFn) -> dict[str, str]:
    """Valid answers to all questions that come up."""
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    for question in QUESTIONS:
        if question.applies(values):
            texts[question.name] = answer(draw, question.name, values)
            values[question.name] = answered(question, texts[question.name], values)
    return texts


def values_of(texts: dict[str, str]) -> dict[str, Any]:
    """The answers as values."""
    values: dict[str, Any] = {}
    for question in QUESTIONS:
        if question.name in texts:
            values[question.name] = answered(question, texts[question.name], values)
    return values


@settings(max_examples=25)
@given(typed())
def test_any_valid_answers_make_a_profile_without_complaint(texts: dict[str, str]) -> None:
    """No problem, contradiction or creeping, no notice but of unseen ends; physics, a wheel a motor."""
    answers = values_of(texts)
    profile = parse_profile(profile_text("asked", answers), "asked.toml")
    robot, plan = profile.robot(), profile.plan()
    unseen = [name for name, actuator in robot.actuator.items() if actuator.stops_in_circuit]
    assert len(unseen) == (answers["actuators"] if answers.get("end_stops") == "circuit" else 0)
    assert [notice.partition(":")[0] for notice in profile.notices()] == [f"actuator.{n}" for n in unseen]
    assert (list(contradictions(robot)), creeps(plan)) == ([], ())
    assert prepare(robot).robot is not None
    assert len(robot.wheel) == {"trio": 3, "cross": 4}.get(answers["layout"], answers.get("motors"))
    assert sum(output.motors for output in robot.output.values()) == len(robot.wheel) + answers["actuators"]
    assert {stick.receiver for stick in (*robot.stick.values(), *robot.switch.values())} == {
        number for number, name in enumerate(answers["receiver"], start=1) if name != "-"
    }
    assert robot.chassis is not None
    assert sum(part.mass_kg for part in robot.part) == pytest.approx(robot.chassis.mass_kg, rel=1e-3)


BAD = {
    "layout": "tank", "motors": "5", "motors_per_channel": "3", "wire": "servo", "wheel_mm": "0",
    "track_mm": "wide", "wheelbase_mm": "nan", "motor_rpm": "-3", "stall_a": "inf", "cells": "2.5",
    "capacity_ah": "2200",
    "mass_kg": "0", "class_limit_kg": "heavy", "actuators": "5", "actuator_sticks": "two",
    "end_stops": "left",
    "stop_switch": "sometimes", "travel_mm": "1e9", "travel_s": "0", "pace": "maybe",
    "receiver": "throttle throttle arm", "stop": "brake", "minutes": "an hour",
}  # fmt: skip


def with_everything(bad: bool) -> list[str]:
    """Lines that make every question come up, each answered wrongly first if so wanted."""
    chosen = {"motors": "4", "actuators": "2", "actuator_sticks": "each", "pace": "yes"}
    wrong = [[BAD[question.name]] if bad else [] for question in QUESTIONS]
    right = [chosen.get(question.name, "") for question in QUESTIONS]
    return [line for no, yes in zip(wrong, right, strict=True) for line in (*no, yes)]


def test_a_bad_answer_is_asked_again_with_a_remedy(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every question refuses what will not do, and the profile is the one of the good answers."""
    texts = []
    for bad in (False, True):
        path = tmp_path / f"{bad}" / "mine.toml"
        path.parent.mkdir()
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(with_everything(bad)) + "\n"))
        ran = run("new", "--ask", path)
        assert ran.code == 0, ran.err
        assert ran.err.count("remedy: ") == (len(BAD) if bad else 0)
        assert all(question.asks in ran.err for question in QUESTIONS)
        texts.append(path.read_text(encoding="utf-8"))
    assert texts[0] == texts[1]
    checked = run("check", path)
    assert (checked.code, checked.err) == (0, "")


@pytest.mark.parametrize("lines", [0, 1, 7, len(QUESTIONS) - 1])
def test_an_input_that_ends_leaves_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lines: int
) -> None:
    """Wherever it ends: no profile, no schema, and a message that says at which question."""
    typed_lines = "".join(f"{line}\n" for line in with_everything(bad=False)[:lines])
    monkeypatch.setattr("sys.stdin", io.StringIO(typed_lines))
    ran = run("new", "--ask", tmp_path / "mine.toml")
    assert (ran.code, "nothing is written" in ran.err) == (2, True)
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_leaves_nothing(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half-way through the questions it ends with 130."""

    class Interrupted(io.StringIO):
        def readline(self, size: int | None = -1, /) -> str:
            line = super().readline(-1 if size is None else size)
            if not line:
                raise KeyboardInterrupt
            return line

    monkeypatch.setattr("sys.stdin", Interrupted("\n\n\n"))
    assert run("new", "--ask", tmp_path / "mine.toml").code == 130
    assert list(tmp_path.iterdir()) == []


def test_who_only_ever_answers_wrongly_is_let_go(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An endless input of nonsense ends."""
    monkeypatch.setattr("sys.stdin", io.StringIO("\x00\x1b[2J" * 10_000))
    ran = run("new", "--ask", tmp_path / "mine.toml")
    assert ran.code == 2
    assert f"{MOST_TRIES} answers to layout would not do" in ran.err
    assert "\x1b" not in ran.err


def test_a_file_answers_all_at_once(run: Run, tmp_path: Path) -> None:
    """Numbers, words, lists and true or false; all that is wrong with it is told with its line."""
    answers = tmp_path / "answers.toml"
    answers.write_text(
        "motors = 6\nmotors_per_channel = 3\npace = true\n"
        'receiver = ["arm", "pace", "throttle", "steering"]\n'
    )
    made = run("new", tmp_path / "mine.toml", "--answers", answers, "--name", "six", "--json")
    assert (made.code, made.data["name"]) == (0, "six")
    assert json.loads(run("check", tmp_path / "mine.toml", "--json").out)["loadouts"][0]["outputs"] == [
        "left",
        "right",
    ]
    answers.write_text(f"motors = 5\nmotor = 3\ntravel_mm = 3\ncells = 0x{'f' * 9000}\n")
    ran = run("new", tmp_path / "other.toml", "--answers", answers)
    assert ran.code == 2
    for said in (
        "answers.toml:1: motors: 5 will not do",
        "answers.toml:2: motor: there is no question 'motor'",
        "answers.toml:3: travel_mm: is not asked of this robot",
        "answers.toml:4: cells: 'a huge number' is no whole number",
    ):
        assert said in ran.err
    assert not (tmp_path / "other.toml").exists()


def test_one_beginning_at_a_time(run: Run, tmp_path: Path) -> None:
    """An example robot and questions exclude each other."""
    ran = run("new", tmp_path / "mine.toml", "--ask", "--like", example_names()[0])
    assert (ran.code, "not allowed with" in ran.err) == (2, True)


def test_defaults_are_answers_that_will_do() -> None:
    """Every default is accepted by its own question, whatever came before."""
    for chosen in ({}, {"layout": "trio"}, {"layout": "cross", "actuators": "3"}, {"actuators": "1"}):
        values: dict[str, Any] = {}
        for question in QUESTIONS:
            if question.applies(values):
                values[question.name] = answered(question, chosen.get(question.name, ""), values)
    with pytest.raises(OptionError):
        answered(QUESTIONS[0], "none of them", {})
