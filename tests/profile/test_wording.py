"""Wrong values one by one, and many at once: each said with its place, its value and what is right."""

import re
import tomllib
from pathlib import Path

import pytest

from mixer.profile.profile import parse_profile
from tests.profile.texts import BASE, assert_only, refusals, spoiled

CASES = tomllib.loads(Path(__file__).with_name("wrong_values.toml").read_text(encoding="utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["new"]).strip())
def test_wrong_value_is_said_with_what_is_right(case: dict[str, str]) -> None:
    """One wrong value gives one problem, in words made from the key's own bounds and description."""
    assert_only(spoiled(case["old"], case["new"]), re.escape(case["begins"]) + ".*")


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
    text = BASE.replace('arm = { switch = "arm", position = "on" }\n', "").replace(
        "= 250", "= 50\narm_hold_ms = 90"
    )
    text = text.replace("receiver = 2\n", "receiver = 2\ntrim = 0.1\n").replace('in_stop = "in"\n', "")
    found = " / ".join(parse_profile(text, "p.toml").notices())

    for said in (
        "guard.arm: without an arm switch the robot goes live whenever the sticks rest at neutral",
        "guard.after_loss: without an arm switch, resting at neutral is all that re-arms",
        "guard.lost_after_ms: bridges only 2.5 frames, so a short gap stops the robot",
        "guard.arm_hold_ms: under 100 ms, a stick passing through neutral is enough to go live",
        "stick.throttle.trim: 0.1 is more than guard.neutral_within",
        "actuator.tray.in_stop: neither a stop nor full_travel_ms ends its way in",
    ):
        assert said in found
