"""Wrong values one by one, and many at once: each said with its place, its value and what is right."""

import re

import pytest

from mixer.profile import parse_profile
from tests.profile.texts import BASE, assert_only, refusals, spoiled

CASES = [
    ("receiver = 2\n", "reciever = 2\n", "p.toml:4: stick.throttle.reciever: unknown key 'reciever' | did you mean 'receiver'? "),
    ("receiver = 2\n", 'receiver = "2"\n', "p.toml:4: stick.throttle.receiver: must be a whole number, not '2' | from 1 up to 16: "),
    ("receiver = 2\n", "receiver = 2.0\n", "p.toml:4: stick.throttle.receiver: must be a whole number, not 2.0 | "),
    ("receiver = 2\n", "receiver = true\n", "p.toml:4: stick.throttle.receiver: must be a whole number, not true | "),
    ("receiver = 2\n", "receiver = 0\n", "p.toml:4: stick.throttle.receiver: 0 is below 1 | from 1 up to 16: "),
    ("receiver = 2\n", "", "p.toml:3: stick.throttle.receiver: is missing | add it: number of the receiver's channel"),
    ("receiver = 2\n", "receiver = 2\nreverse = 1\n", "p.toml:5: stick.throttle.reverse: must be true or false, not 1 | true to exchange"),
    ("expo = 0.3", "expo = nan", "p.toml:15: shape.soft.expo: must be a finite number, not nan | from -0.5 up to 1: "),
    ("expo = 0.3", "expo = -0.6", "p.toml:15: shape.soft.expo: -0.6 is below -0.5 | from -0.5 up to 1: softness"),
    ("[shape.soft]", "[shape.Soft]", "p.toml:14: shape.Soft: 'Soft' cannot be a name | begin with a small letter"),
    ("pin = 7\n", "pin = [7]\n", "p.toml:23: output.tray.pin: must be a pin's number or its name, not [7] | the board's pin"),
    ("pin = 7\n", "", "p.toml:22: output.tray.pin: is missing | add it: the board's pin, a number such as 5"),
    ("mix = { tip = 1.0 }\n", "", "p.toml:22: output.tray.mix: is missing | add it: how much of each stick"),
    ("mix = { tip = 1.0 }", "mix = 3", "p.toml:24: output.tray.mix: must be a table, not 3 | "),
    ('over_range = "scale"', 'over_range = "scael"', "p.toml:27: group.drive.over_range: 'scael' is not one of 'clip', 'scale' or 'yield' | "),
    ('positions = ["slow", "mid", "fast"]', 'positions = ["slow"]', "p.toml:13: switch.pace.positions: has too few entries (1) | two or three names"),
    ('positions = ["slow", "mid", "fast"]', 'positions = ["slow", "Fast"]', "p.toml:13: switch.pace.positions[1]: 'Fast' cannot be a name | "),
    ('name = "spoilt"', 'name = "sp*ilt"', "p.toml:2: robot.name: 'sp*ilt' cannot be a name | the robot's name: letters, digits"),
    ('name = "spoilt"', "", "p.toml:1: robot.name: is missing | add it: the robot's name"),
    ("[guard]", "[gard]", "p.toml:36: gard: unknown section 'gard' | did you mean 'guard'? known here: robot, receiver"),
    ("[guard]", "[guard]\nstop_within = 4", "p.toml:37: guard.stop_within: unknown key 'stop_within' | did you mean 'stop_within_ms'? "),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), CASES)
def test_wrong_value_is_said_with_what_is_right(old: str, new: str, expected: str) -> None:
    """One wrong value gives one problem, in words made from the key's own bounds and description."""
    assert_only(spoiled(old, new), re.escape(expected) + ".*")


def test_all_mistakes_are_shown_at_once_in_the_order_of_the_file() -> None:
    """Wrong values do not hide contradictions elsewhere, so one edit can mend everything."""
    text = BASE.replace("expo = 0.3", "expo = 3").replace("pin = 6\n", "pin = 5\n")
    text = text.replace('"out"\n', '"otu"\n').replace("lost_after_ms = 250", "lost = 250")
    places = [said.split(": ")[:2] for said in refusals(text)]

    assert places == [
        ["p.toml:15", "shape.soft.expo"],
        ["p.toml:20", "output.right.pin"],
        ["p.toml:34", "actuator.tray.out_stop"],
        ["p.toml:37", "guard.lost"],
    ]


def test_consequences_of_a_wrong_value_are_not_said() -> None:
    """Where a switch's positions cannot be read, nothing is said about positions it seems to lack."""
    text = spoiled('positions = ["slow", "mid", "fast"]', "positions = 3").replace(
        '"arm", position = "on"', '"pace", position = "fast"'
    )

    assert_only(text, r"p\.toml:13: switch\.pace\.positions: must be a list in \[brackets\], not 3 \| .*")


NOTICES = {
    "slew_up_ms = 25000": "output.tray.slew_up_ms: 25000 ms becomes 32768 ms in whole steps of 2 ms",
    "slew_down_ms = 1.5": "output.tray.slew_down_ms: 1.5 ms is within one tick, so it is at once",
}


@pytest.mark.parametrize("key", NOTICES)
def test_far_rounding_is_a_notice(key: str) -> None:
    """A slew that whole steps miss by over a twentieth is said, and nothing is refused."""
    notices = parse_profile(spoiled("pin = 7\n", f"pin = 7\n{key}\n"), "p.toml").notices()

    assert NOTICES[key] in notices


def test_surprises_are_notices() -> None:
    """No arm switch, short bridging, trim past neutral and an unended way are said."""
    text = BASE.replace('arm = { switch = "arm", position = "on" }\n', "").replace("= 250", "= 50")
    text = text.replace("receiver = 2\n", "receiver = 2\ntrim = 0.1\n").replace('in_stop = "in"\n', "")
    found = " / ".join(parse_profile(text, "p.toml").notices())

    for said in (
        "guard.arm: without an arm switch the robot goes live whenever the sticks rest at neutral",
        "guard.after_loss: without an arm switch, resting at neutral is all that re-arms",
        "guard.lost_after_ms: bridges only 2.5 frames, so a short gap stops the robot",
        "stick.throttle.trim: 0.1 is more than guard.neutral_within",
        "actuator.tray.in_stop: neither a stop nor full_travel_ms ends its way in",
    ):
        assert said in found
