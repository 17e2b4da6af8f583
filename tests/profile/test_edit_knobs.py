"""Which values can be turned, and what is said of them."""

from pathlib import Path

import pytest

from mixer.profile.edit.document import Editor
from mixer.profile.edit.knobs import Knob, knob_value, knobs_of
from mixer.profile.profile import load_profile, parse_profile

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
CARRIER = next(path for path in PROFILES if path.stem == "sample_carrier")
by_profile = pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)


def knob_named(path: Path, key: str) -> Knob:
    """One knob of a profile."""
    return next(knob for knob in knobs_of(load_profile(path).robot()) if knob.key == key)


@by_profile
def test_every_knob_can_be_turned(path: Path) -> None:
    """Each knob's present value, written back, gives the same robot; so key, kind and place are right."""
    robot = load_profile(path).robot()
    text = path.read_text(encoding="utf-8")
    for knob in knobs_of(robot):
        value = knob_value(robot, knob)
        if value is None or (knob.path[2:3] == ("mix",) and value == 0):
            continue
        edited = parse_profile(Editor(text).set(knob.path, value), path.name)
        assert edited.robot() == robot, knob.key


@by_profile
def test_every_knob_explains_itself(path: Path) -> None:
    """Label, help, a range that holds the present value, a step that fits, and choices with the value."""
    robot = load_profile(path).robot()
    knobs = knobs_of(robot)
    assert len({knob.key for knob in knobs}) == len(knobs) > 20
    for knob in knobs:
        value = knob_value(robot, knob)
        assert knob.label
        assert len(knob.help) > 10, knob.key
        if knob.kind in ("number", "whole"):
            assert knob.low < knob.high
            assert knob.low + knob.step <= knob.reach <= knob.high
            assert value is None or knob.low <= float(value) <= knob.high
        elif knob.kind == "choice":
            assert value in knob.choices


@pytest.mark.parametrize(
    ("key", "kind", "unit", "low", "high"),
    [
        ("shape.soft.expo", "number", "", -0.5, 1.0),
        ("shape.soft.rate", "number", "", 0.01, 1.0),
        ("output.left_front.mix.throttle", "number", "", -2.0, 2.0),
        ("output.left_front.breakaway", "number", "", 0.0, 0.99),
        ("output.left_front.slew_up_ms", "number", "ms", 0.0, 60_000.0),
        ("stick.throttle.centre_us", "whole", "µs", 100.0, 4000.0),
        ("guard.lost_after_ms", "number", "ms", 5.0, 10_000.0),
        ("guard.stop_within_ms", "number", "ms", 5.0, 60_000.0),
    ],
)
def test_ranges_are_those_of_the_schema(key: str, kind: str, unit: str, low: float, high: float) -> None:
    """Bounds and units, checked against the schema's text by hand."""
    knob = knob_named(CARRIER, key)
    assert (knob.kind, knob.unit, knob.low, knob.high) == (kind, unit, low, high)


def test_values_of_the_other_kind_of_wire_are_left_out() -> None:
    """A duty output has no pulse endpoints, a pulse output no choice of brake."""
    keys = {knob.key for knob in knobs_of(load_profile(CARRIER).robot())}
    assert "output.left_front.at_zero" in keys
    assert "output.left_front.low_us" not in keys


def test_a_group_without_a_named_stick_cannot_yield() -> None:
    """The choice that the profile would refuse is not offered."""
    assert knob_named(CARRIER, "group.drive.over_range").choices == ("clip", "scale")


def test_an_output_can_be_given_a_stick_it_does_not_have_yet() -> None:
    """It stands at zero, and the sticks are those of the other outputs."""
    robot = load_profile(CARRIER).robot()
    assert knob_value(robot, knob_named(CARRIER, "output.tray_left.mix.throttle")) == 0.0
