"""The robot of a bench that is opened without a profile."""

from pathlib import Path

import pytest

from mixer.examples.shipped import FIRST, example_text
from mixer.live.bench.session import open_session
from mixer.live.tuning.offers import Offers
from mixer.profile.profile import load_profile
from tests.live.benches import AtOnce
from tui.example.copy import example_profile


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person's data folder of their own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_example_is_a_persons_own_copy(data: Path) -> None:
    """Made once, found again, and never written over: what was changed in it stays."""
    path = example_profile()
    assert path == data / "stickwright" / f"{FIRST}.toml"
    assert path.read_text(encoding="utf-8") == example_text(FIRST, path)
    path.write_text(path.read_text(encoding="utf-8").replace("sample carrier", "mine"), encoding="utf-8")
    assert example_profile() == path
    assert load_profile(path).robot().robot.name == "mine"


def test_edits_of_the_example_are_offered_again(data: Path) -> None:
    """What was not saved is offered at the next start, of each of two windows by itself."""
    expos = {"one": 0.5, "two": 0.7}
    windows = {
        name: open_session(example_profile(), now_s=0.0, worker=AtOnce(), window=name) for name in expos
    }
    for name, session in windows.items():
        assert session.tuning.set("shape.dash.expo", expos[name]) == ""
        assert [other.name for other in session.tuning.recovery.open_window.others()] != [name]
    for session in windows.values():
        session.close()
    offers, found = Offers(open_session(example_profile(), now_s=0.0, worker=AtOnce()).tuning), {}
    while (offer := offers.next()) is not None:
        found[offer.window] = offer.changes["A"][0].now
        offers.put_off(offer)
    assert found == expos


def test_without_a_place_to_write_it_opens_all_the_same(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A home that cannot be written: the copy lies in the folder for passing things."""
    data.write_text("a file where the folder should be", encoding="utf-8")
    monkeypatch.setattr("tempfile.tempdir", str(data.parent / "passing"))
    path = example_profile()
    assert path.parent.parent == data.parent / "passing"
    assert load_profile(path).robot().robot.name == "sample carrier"


def test_the_example_shows_what_the_bench_can_do() -> None:
    """Many motors with physics, actuators between end stops, a switch that chooses shapes, loadouts."""
    profile = load_profile(example_profile())
    robot = profile.robot()
    assert len(robot.output) >= 6
    assert len(robot.wheel) >= 6
    assert robot.battery is not None
    assert all(actuator.out_stop and actuator.in_stop for actuator in robot.actuator.values())
    assert profile.loadouts
    assert profile.notices() == ()
