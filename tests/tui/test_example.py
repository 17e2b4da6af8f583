"""The robot of a bench that is opened without a profile."""

from pathlib import Path

import pytest

from mixer.profile.profile import load_profile
from tui.example.copy import EXAMPLE, example_profile


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person's data folder of their own."""
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_example_is_a_persons_own_copy(data: Path) -> None:
    """Made once, found again, and never written over: what was changed in it stays."""
    path = example_profile()
    assert path == data / "stickwright" / EXAMPLE.name
    assert path.read_bytes() == EXAMPLE.read_bytes()
    path.write_text(path.read_text(encoding="utf-8").replace("shore picker", "mine"), encoding="utf-8")
    assert example_profile() == path
    assert load_profile(path).robot().robot.name == "mine"


def test_without_a_place_to_write_it_opens_all_the_same(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A home that cannot be written: the copy lies in the folder for passing things."""
    data.write_text("a file where the folder should be", encoding="utf-8")
    monkeypatch.setattr("tempfile.tempdir", str(data.parent / "passing"))
    path = example_profile()
    assert path.parent.parent == data.parent / "passing"
    assert load_profile(path).robot().robot.name == "shore picker"


def test_the_example_shows_what_the_bench_can_do() -> None:
    """Many motors with physics, an actuator between end stops, a switch that chooses shapes, a loadout."""
    profile = load_profile(EXAMPLE)
    robot = profile.robot()
    assert len(robot.output) >= 6
    assert len(robot.wheel) >= 6
    assert robot.battery is not None
    assert all(actuator.out_stop and actuator.in_stop for actuator in robot.actuator.values())
    assert profile.loadouts
    assert profile.notices() == ()
