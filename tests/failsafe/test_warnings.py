"""A profile that asks for trouble is warned of it in words a builder understands."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.failsafe.report.warnings import warnings_of
from mixer.profile.profile import load_profile, parse_profile
from tests.plans import rig

PROFILES = Path(__file__).parents[2] / "profiles"


def marked(plan: Plan) -> Plan:
    """With a lost mark on one channel, every travel watched, switches that open at the end."""
    first = replace(plan.channels[0], good_low_us=930)
    return replace(
        plan,
        channels=(first, *(replace(channel, good_low_us=900) for channel in plan.channels[1:])),
        actuators=tuple(replace(actuator, travel_limit=60 * ONE) for actuator in plan.actuators),
        contacts=tuple(replace(contact, closed_reads=1) for contact in plan.contacts),
        guard=replace(plan.guard, hold_ticks=30, lost_ticks=25),
    )


CAREFUL = marked(rig())
TROUBLE = {
    "guard.arm": replace(CAREFUL, guard=replace(CAREFUL.guard, arm=None)),
    "guard.after_loss": replace(CAREFUL, guard=replace(CAREFUL.guard, resumes=True)),
    "guard.arm_hold_ms": replace(CAREFUL, guard=replace(CAREFUL.guard, hold_ticks=2)),
    "guard.neutral_within": replace(CAREFUL, guard=replace(CAREFUL.guard, neutral_within=ONE // 4)),
    "guard.lost_after_ms": replace(CAREFUL, guard=replace(CAREFUL.guard, lost_ticks=200)),
    "guard.stop": replace(
        CAREFUL,
        guard=replace(CAREFUL.guard, ramps=True),
        outputs=tuple(replace(output, down_step=100) for output in CAREFUL.outputs),
    ),
    "stick.throttle.lost_below_us": replace(
        CAREFUL, channels=(replace(CAREFUL.channels[0], good_low_us=1100), *CAREFUL.channels[1:])
    ),
    "stick.NAME.lost_below_us": replace(
        CAREFUL, channels=tuple(replace(channel, good_low_us=900) for channel in CAREFUL.channels)
    ),
    "receiver.valid_us": replace(
        CAREFUL,
        channels=(CAREFUL.channels[0], *(replace(c, good_high_us=3000) for c in CAREFUL.channels[1:])),
    ),
    "actuator.lift.full_travel_ms": replace(
        CAREFUL, actuators=(replace(CAREFUL.actuators[0], travel_limit=None), *CAREFUL.actuators[1:])
    ),
    "contact.a_in.closed_reads": replace(
        CAREFUL,
        contacts=(CAREFUL.contacts[0], replace(CAREFUL.contacts[1], closed_reads=0), *CAREFUL.contacts[2:]),
    ),
}


def test_a_careful_profile_is_left_alone() -> None:
    """No warning where nothing asks for trouble."""
    assert warnings_of(CAREFUL) == ()


@pytest.mark.parametrize("key", sorted(TROUBLE))
def test_trouble_is_named_by_its_key(key: str) -> None:
    """Each kind of trouble warns of itself, says why, and what to do."""
    found = {warned.key: warned for warned in warnings_of(TROUBLE[key])}
    assert key in found
    assert found[key].words.endswith(".")
    assert found[key].remedy


def test_two_seconds_of_bridging_are_told_in_seconds() -> None:
    """The builder reads how long the robot drives on by itself."""
    (found,) = [item for item in warnings_of(TROUBLE["guard.lost_after_ms"]) if "lost_after" in item.key]
    assert "drives on for 2 s" in found.words


def test_stops_in_the_motor_circuit_are_only_in_the_profile() -> None:
    """The plan has no word for them, so the profile's own section is looked at."""
    text = (PROFILES / "sample_carrier.toml").read_text(encoding="utf-8")
    for line in ('out_stop = "left_out"\n', 'in_stop = "left_in"\n', 'both_closed = "stop-actuator"    '):
        text = text.replace(line, "" if "stop =" in line else "stops_in_circuit = true\n#", 1)
    profile = parse_profile(text, "carrier")
    found = {warned.key for warned in warnings_of(profile.plan(), profile.robot())}
    assert "actuator.tray_left.stops_in_circuit" in found


def test_example_robots_are_warned_of_little() -> None:
    """The reference robot asks for no trouble at all."""
    profile = load_profile(PROFILES / "sample_carrier.toml")
    assert [warned.key for warned in warnings_of(profile.plan(), profile.robot())] == []
