"""The robots that come with the project, and the starter, load in every loadout and say nothing odd."""

from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.core.tick import flat_tick
from mixer.errors import OptionError
from mixer.profile.checks.plan import broken_promises
from mixer.profile.integers.numbers import numbers
from mixer.profile.profile import Profile, load_profile, parse_profile
from mixer.profile.starter import starter_profile

FOLDER = Path(__file__).parents[2] / "profiles"
NAMES = ("holonomic_trio", "long_crawler", "sample_carrier", "tank_pair")


def example(name: str) -> Profile:
    """One of the robots that come with the project."""
    return load_profile(FOLDER / f"{name}.toml")


def test_every_example_is_tested() -> None:
    """No example robot is left out of the tests below."""
    assert tuple(sorted(path.stem for path in FOLDER.glob("*.toml"))) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_example_loads_in_all_loadouts_without_notices(name: str) -> None:
    """Each loadout gives a plan that keeps every promise, runs a tick, and surprises nobody."""
    profile = example(name)
    for loadout in (None, *profile.loadouts):
        plan = profile.plan(loadout)
        layout = layout_of(plan)
        done = flat_tick(plan, [0] * len(layout.inputs), layout.start)

        assert list(broken_promises(plan)) == []
        assert plan.tick_ms == 2
        assert len(done.signals) == len(layout.signals)
        assert profile.notices(loadout) == ()


def test_reference_robot_is_as_the_design_says() -> None:
    """Four drive channels of two motors in one scaling group, two end-stopped actuators, eight wheels."""
    profile = example("sample_carrier")
    plan, robot = profile.plan(), profile.robot()

    assert [output.name for output in plan.outputs[:4]] == [
        "left_front",
        "left_rear",
        "right_front",
        "right_rear",
    ]
    assert [robot.output[name].motors for name in ("left_front", "right_rear")] == [2, 2]
    assert plan.groups[0].outputs == (0, 1, 2, 3)
    assert [(actuator.output, actuator.out_stop, actuator.in_stop) for actuator in plan.actuators] == [
        (4, 0, 1),
        (5, 2, 3),
    ]
    assert [channel.name for channel in plan.channels] == ["steering", "throttle", "tip", "arm", "pace"]
    assert len(robot.wheel) == 8


def test_bare_loadout_has_neither_actuators_nor_their_channel() -> None:
    """Without the tray its stick is not watched, so losing that channel does not stop the robot."""
    plan = example("sample_carrier").plan("bare")

    assert (plan.actuators, plan.contacts) == ((), ())
    assert [channel.name for channel in plan.channels] == ["steering", "throttle", "arm", "pace"]
    assert len(plan.outputs) == 4


def test_part_of_a_loadout_is_added_beside_the_others() -> None:
    """[[loadout.NAME.part]] adds a part, and remove takes one out by name."""
    robot = example("sample_carrier").robot("long_tray")

    assert [part.name for part in robot.part] == ["hull", "drive", "battery", "long_tray"]
    assert robot.actuator["tray_left"].travel_mm == 90
    assert robot.actuator["tray_left"].out_stop == "left_out"


def test_unknown_loadout_offers_the_nearest_and_all() -> None:
    """A misspelt loadout is refused with what there is."""
    with pytest.raises(OptionError) as caught:
        example("sample_carrier").plan("bear")

    assert str(caught.value).endswith(
        "has no loadout 'bear'\n    remedy: did you mean 'bare'? known loadouts: bare, long_tray"
    )


def test_fingerprints_tell_plans_apart() -> None:
    """Equal plans have equal fingerprints; each loadout has its own."""
    profile, again = example("sample_carrier"), example("sample_carrier")
    prints = [profile.fingerprint(loadout) for loadout in (None, *profile.loadouts)]

    assert prints == [again.fingerprint(loadout) for loadout in (None, *again.loadouts)]
    assert len(set(prints)) == 3


def test_starter_passes_and_carries_its_name() -> None:
    """What `new` writes loads without problems or notices, in both loadouts, under the given name."""
    profile = parse_profile(starter_profile("my first robot"), "starter.toml")

    assert profile.plan().name == "my first robot"
    assert (profile.notices(), profile.notices("gentle")) == ((), ())
    assert [output.limit for output in profile.plan("gentle").outputs] == [8192, 8192]


@pytest.mark.parametrize("name", ["", "-x", 'a"b', "a\nb", "x" * 61, "näme"])
def test_starter_refuses_names_a_profile_could_not_hold(name: str) -> None:
    """A name that would spoil the text is refused before it is written."""
    with pytest.raises(OptionError):
        starter_profile(name)


def test_numbers_show_what_each_integer_stands_for() -> None:
    """Rows name the integer, its unit and the real value; indices are shown as names."""
    rows = {row.name: (row.value, row.unit, row.real) for row in numbers(example("sample_carrier").plan())}

    assert rows["guard.lost_ticks"] == (125, "ticks", "250 ms")
    assert rows["output.left_front.weights.steering"] == (13107, "Q14", "0.79999")
    assert rows["output.left_front.high_span"] == (255, "count", "255 of 255")
    assert rows["group.drive.policy"] == (1, "choice", "scale")
    assert rows["stick.throttle.chooser"] == (1, "index", "pace")
    assert rows["guard.arm.position"] == (1, "index", "on")
    assert rows["actuator.tray_left.travel_limit"] == (81100800, "Q14 ticks", "9900 ms at full")
    assert all(unit for _, unit, _ in rows.values())
