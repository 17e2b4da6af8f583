"""A start state beside a log: written, read back, and refused where it is another robot's."""

import random
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.errors import LogError
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
        ("[1, 2]", r"holds no object"),
        ("{", r"cannot be read"),
    ],
)
def test_what_cannot_be_is_told(tmp_path: Path, text: str, said: str) -> None:
    """File, key and remedy, as for every other bad input."""
    log = tmp_path / "drive.csv"
    start_state_path(log).write_text(text, encoding="utf-8")
    with pytest.raises(LogError, match=said):
        read_start_state(log, PLAN)
