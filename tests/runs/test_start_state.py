"""A start state beside a log: written, read back, and refused where it is another robot's."""

import random
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.errors import LogError
from mixer.profile.profile import load_profile
from mixer.runs.play.start_state import read_start_state, start_state_path, write_start_state
from tests.strategies import driving, random_plan, run_core

PLAN = random_plan(random.Random(3))


def test_a_state_comes_back(tmp_path: Path) -> None:
    """Whatever a drive leaves behind is read as it was written."""
    log = tmp_path / "drive.csv"
    for after in run_core(PLAN, driving(random.Random(4), PLAN, 80)):
        state = tuple(after.state)
    path = write_start_state(log, PLAN, state)
    assert path == start_state_path(log) == tmp_path / "drive.csv.start.json"
    assert read_start_state(log, PLAN) == state


def test_without_a_file_the_board_powers_up(tmp_path: Path) -> None:
    """No file, no state; an empty object is power-up."""
    log = tmp_path / "drive.csv"
    assert read_start_state(log, PLAN) is None
    start_state_path(log).write_text("{}", encoding="utf-8")
    assert read_start_state(log, PLAN) == layout_of(PLAN).start


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"guard.stat": 2}', r"did you mean guard\.state\?"),
        ('{"nothing.like.it.here": 2}', r"robot it was written for"),
        ('{"guard.state": "live"}', r"'live' is not a whole number"),
        ('{"guard.state": true}', r"True is not a whole number"),
        ('{"guard.state": null}', r"None is not a whole number"),
        (
            '{"guard.state": 99}',
            r"99 is nothing that a run can come to\n    remedy: write a number from 0",
        ),
        ('{"guard.state": -1}', r"-1 is nothing that a run can come to"),
        ('{"guard.state": 1e300}', r"is not a whole number"),
        ("null", r"holds no object"),
        ("[1, 2]", r"holds no object"),
        ('{"a": ' + "[" * 100_000, r"cannot be read: nested too deeply"),
        (" " * 1_000_001, r"over 1000000 bytes, which no state is"),
        ("{", r"cannot be read"),
    ],
)
def test_what_cannot_be_is_told(tmp_path: Path, text: str, said: str) -> None:
    """File, key and remedy, as for every other bad input."""
    log = tmp_path / "drive.csv"
    start_state_path(log).write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match=said):
        read_start_state(log, PLAN)


def test_slots_that_are_one_cannot_differ(tmp_path: Path) -> None:
    """Front and rear of a side are told the same for ever; a state in which they differ is none."""
    plan = load_profile(Path("profiles/long_crawler.toml")).plan()
    log = tmp_path / "drive.csv"
    start_state_path(log).write_text('{"output.left_rear.command": 500}', encoding="utf-8")
    with pytest.raises(LogError, match="in every run the two are equal"):
        read_start_state(log, plan)
    both = '{"output.left_rear.command": 500, "output.left_front.command": 500}'
    start_state_path(log).write_text(both, encoding="utf-8")
    assert read_start_state(log, plan) is not None
