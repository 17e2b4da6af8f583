"""Changing a value of a profile's text."""

import difflib
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.errors import OptionError
from mixer.profile.edit.differences import Change, laid_over
from mixer.profile.edit.document import Editor, Scalar, value_in
from mixer.profile.profile import load_profile, parse_profile
from mixer.profile.starter import starter_profile

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
CARRIER = next(path for path in PROFILES if path.stem == "sample_carrier")
TEXTS = [path.read_text(encoding="utf-8") for path in PROFILES] + [starter_profile("edited robot")]


def set_value(text: str, path: Sequence[str], value: Scalar) -> str:
    """The text with one value changed."""
    return Editor(text).set(path, value)


def scalar_paths(tables: dict[str, Any], path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Every key path of a single value, those in lists left out."""
    found = []
    for key, value in tables.items():
        if isinstance(value, dict):
            found += scalar_paths(value, (*path, key))
        elif not isinstance(value, list):
            found.append((*path, key))
    return found


def with_value(tables: dict[str, Any], path: tuple[str, ...], value: object) -> dict[str, Any]:
    """The tables with one value changed."""
    return {
        key: inner if key != path[0] else value if len(path) == 1 else with_value(inner, path[1:], value)
        for key, inner in tables.items()
    }


def changed_lines(before: str, after: str) -> list[str]:
    """Lines taken out and put in."""
    lines = difflib.ndiff(before.split("\n"), after.split("\n"))
    return [line for line in lines if line[0] in "+-"]


def other_value(draw: st.DrawFn, value: object) -> bool | float | str:
    """Another value of the same type."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return draw(st.integers(-9999, 9999).filter(lambda number: number != value))
    if isinstance(value, float):
        return round(draw(st.floats(-99, 99).filter(lambda number: number != value)), 4)
    return draw(st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=20))


@given(st.data())
def test_one_value_is_changed_and_nothing_else(data: st.DataObject) -> None:
    """Read again, the text holds exactly the new value; of its lines only that one differs."""
    text = data.draw(st.sampled_from(TEXTS))
    tables = tomllib.loads(text)
    path = data.draw(st.sampled_from(scalar_paths(tables)))
    value = other_value(data.draw, value_in(tomllib.loads(text), path))
    new = set_value(text, path, value)
    assert tomllib.loads(new) == with_value(tables, path, value)
    assert len(new.split("\n")) == len(text.split("\n"))
    assert len(changed_lines(text, new)) in (0, 2)
    before = [line.partition("#")[2] for line in text.split("\n")]
    if not isinstance(value, str):
        assert [line.partition("#")[2] for line in new.split("\n")] == before


@given(st.data())
def test_a_change_taken_back_gives_the_same_bytes(data: st.DataObject) -> None:
    """Set to another value and back, every byte is as it was, for numbers written plainly."""
    text = data.draw(st.sampled_from(TEXTS))
    path = data.draw(st.sampled_from(scalar_paths(tomllib.loads(text))))
    was = value_in(tomllib.loads(text), path)
    assert was is not None
    there_and_back = set_value(set_value(text, path, other_value(data.draw, was)), path, was)
    assert tomllib.loads(there_and_back) == tomllib.loads(text)
    if not isinstance(was, float):
        assert there_and_back == text


def test_a_value_the_file_does_not_hold_is_added_to_its_table() -> None:
    """It stands right after the table's last key, above the heading comment of what follows."""
    text = CARRIER.read_text(encoding="utf-8")
    new = set_value(text, ("match", "opponent_kg"), 3.5)
    assert changed_lines(text, new) == ["+ opponent_kg = 3.5"]
    lines = new.split("\n")
    assert lines[lines.index("opponent_kg = 3.5") - 1] == "arena_m = 6.0"
    assert Editor(new).remove(("match", "opponent_kg")) == text


def test_a_key_is_added_to_an_inline_table() -> None:
    """A mix gets one more stick in the same line, spaced like the rest."""
    text = "[output.left]\npin = 1\nmix = { throttle = 1.0 }  # forward\n"
    new = set_value(text, ("output", "left", "mix", "steering"), -0.5)
    assert new.split("\n")[2] == "mix = { throttle = 1.0, steering = -0.5 }  # forward"


def test_a_missing_section_of_its_own_is_added_at_the_end() -> None:
    """A guard's value of a profile without [guard] makes one."""
    text = '[robot]\nname = "bare"\n'
    assert tomllib.loads(set_value(text, ("guard", "lost_after_ms"), 200))["guard"] == {
        "lost_after_ms": 200
    }


def test_a_value_of_a_thing_that_is_not_there_is_refused() -> None:
    """Nothing is invented: an output has to be in the file before it can be tuned."""
    with pytest.raises(OptionError, match=r"there is no \[output.tail\]"):
        set_value(TEXTS[0], ("output", "tail", "gain"), 1.0)


@pytest.mark.parametrize("table", ["[stick.throttle.shape]\nswitch = 'pace'\n", "shape.switch = 'pace'\n"])
def test_a_table_with_lines_of_its_own_is_not_replaced_by_a_value(table: str) -> None:
    """It is refused and found no place, whatever the rest of the text is."""
    text = f"[stick.throttle]\nreceiver = 1\n{table}"
    with pytest.raises(OptionError, match="is a table of its own"):
        set_value(text, ("stick", "throttle", "shape"), "soft")
    change = Change("stick.throttle.shape", {"switch": "pace"}, "soft")
    assert laid_over(text, [change])[1] == (change,)


def test_whole_numbers_stay_whole() -> None:
    """Where the file writes 250, a new 300.0 is written 300, and 262.5 as it is."""
    text = "[guard]\nlost_after_ms = 250  # ms\n"
    assert set_value(text, ("guard", "lost_after_ms"), 300.0) == "[guard]\nlost_after_ms = 300  # ms\n"
    assert set_value(text, ("guard", "lost_after_ms"), 262.5) == "[guard]\nlost_after_ms = 262.5  # ms\n"


def test_line_ends_of_the_file_stay() -> None:
    """A file with CRLF keeps them on every line."""
    text = "[guard]\r\nlost_after_ms = 250 # a\r\narm_hold_ms = 1\r\n"
    new = set_value(text, ("guard", "lost_after_ms"), 300)
    assert new == text.replace("250", "300")


def test_dotted_keys_of_a_loadout_are_changed_in_place() -> None:
    """``chassis.mass_kg = 5.32`` in a loadout's table stays one line."""
    text = CARRIER.read_text(encoding="utf-8")
    new = set_value(text, ("loadout", "bare", "chassis", "mass_kg"), 5.5)
    assert changed_lines(text, new) == ["- chassis.mass_kg = 5.32", "+ chassis.mass_kg = 5.5"]


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_an_edited_profile_is_still_a_profile(path: Path) -> None:
    """The example robots load after each of their outputs was given another limit."""
    text = path.read_text(encoding="utf-8")
    robot = load_profile(path).robot()
    for name in robot.output:
        text = set_value(text, ("output", name, "limit"), 0.75)
    assert {output.limit for output in parse_profile(text, path.name).robot().output.values()} == {0.75}


@given(st.data())
@settings(max_examples=8)
def test_many_changes_in_one_reading_are_the_same_as_one_by_one(data: st.DataObject) -> None:
    """An editor that keeps the text read gives what reading it anew for every change gives."""
    text = data.draw(st.sampled_from(TEXTS))
    paths = data.draw(st.lists(st.sampled_from(scalar_paths(tomllib.loads(text))), min_size=2, max_size=6))
    editor = Editor(text)
    for path in paths:
        value = other_value(data.draw, value_in(tomllib.loads(text), path))
        text = set_value(text, path, value)
        assert editor.set(path, value) == text


@pytest.mark.parametrize(
    ("before", "path", "after"),
    [
        ("[a]\r\n  b = 1 # d\r\n\r\n[d]\r\n", ("a", "c"), "[a]\r\n  b = 1 # d\r\n  c = 2\r\n\r\n[d]\r\n"),
        ("[a]\nb.c = 1\nd = 3\n", ("a", "b", "e"), "[a]\nb.c = 1\nb.e = 2\nd = 3\n"),
        ("[a]\n# nothing yet\n", ("a", "b"), "[a]\nb = 2\n# nothing yet\n"),
        ("[a]", ("a", "b"), "[a]\nb = 2"),
        ("a = {}  # none\n", ("a", "b"), "a = { b = 2 }  # none\n"),
        ('[a]\nb = """\n[x]\ny = 1"""\n', ("a", "c"), '[a]\nb = """\n[x]\ny = 1"""\nc = 2\n'),
        ("[[p]]\nq = 1\n[a]\nx = [1,\n 2]\n", ("a", "y"), "[[p]]\nq = 1\n[a]\nx = [1,\n 2]\ny = 2\n"),
    ],
)  # fmt: skip
def test_where_a_new_value_is_put(before: str, path: tuple[str, ...], after: str) -> None:
    """After the last of its table however that is written, with the file's line ends and indent."""
    assert set_value(before, path, 2) == after


@pytest.mark.parametrize(
    ("before", "path", "after"),
    [
        ("a = { b = 1, c = 2 }\n", ("a", "b"), "a = { c = 2 }\n"),
        ("a = { b = 1, c = 2 }\n", ("a", "c"), "a = { b = 1 }\n"),
        ("[a]\nb = 1 # why\nc = 2\n", ("a", "b"), "[a]\nc = 2\n"),
        ("[a]\nb.c = 1\nb.d = 2", ("a", "b", "d"), "[a]\nb.c = 1\n"),
    ],
)
def test_how_a_value_is_taken_out(before: str, path: tuple[str, ...], after: str) -> None:
    """With its comma or its line, and nothing else."""
    assert Editor(before).remove(path) == after
