"""`--without`: a channel or one motor of it dead, in every loadout, wheels still on the floor."""

from pathlib import Path

import pytest

from mixer.errors import OptionError
from mixer.plant.from_profile import prepare
from mixer.profile.profile import Profile, load_profile

PROFILES = Path(__file__).parents[2] / "profiles"


@pytest.fixture
def carrier() -> Profile:
    """The reference robot."""
    return load_profile(PROFILES / "sample_carrier.toml")


def test_a_dead_channel_leaves_the_firmware_and_not_the_floor(carrier: Profile) -> None:
    """Its output goes from plan and group; its wheels carry their weight and drag their gearmotors."""
    dead = carrier.without(["left_rear"])
    assert [output.name for output in dead.plan().outputs] == [
        "left_front", "right_front", "right_rear", "tray_left", "tray_right",
    ]  # fmt: skip
    robot, whole = prepare(dead.robot()).robot, prepare(carrier.robot()).robot
    assert robot is not None
    assert whole is not None
    assert [wheel.load_n for wheel in robot.wheels] == [wheel.load_n for wheel in whole.wheels]
    dragging = {wheel.name: wheel.dragged.count for wheel in robot.wheels if wheel.dragged}
    assert dragging == {"left_3": 1.0, "left_4": 1.0}
    assert dead.without(["right_rear"]).taken == ("left_rear", "right_rear")


def test_a_dead_motor_leaves_the_firmware_alone(carrier: Profile) -> None:
    """One motor of a ganged channel: the same plan, one wheel dragging, the other driven by one motor."""
    dead = carrier.without(["left_rear:2"])
    assert dead.fingerprint() == carrier.fingerprint()
    robot = prepare(dead.robot()).robot
    assert robot is not None
    motors = {wheel.name: robot.motors_at(wheel) for wheel in robot.wheels}
    assert motors["left_3"] == 1.0
    assert motors["left_4"] == 0.0
    assert carrier.without(["left_rear:1", "left_rear:2"]).plan() == carrier.without(["left_rear"]).plan()


def test_a_dead_screw_leaves_its_lift_to_the_other(carrier: Profile) -> None:
    """An actuator goes with its output, the lift keeps the other; loadouts without it stay."""
    dead = carrier.without(["tray_left"])
    assert dead.robot().lift["tray"].actuators == ("tray_right",)
    assert dead.plan("bare") == carrier.plan("bare")


@pytest.mark.parametrize(
    ("name", "said"),
    [("left_raer", "left_rear"), ("left_rear:3", "has 2 motors"), ("left_rear:0", "left_rear:1 to")],
)
def test_what_is_not_there_is_refused(carrier: Profile, name: str, said: str) -> None:
    """With the nearest name, or how its motors are counted."""
    with pytest.raises(OptionError) as refused:
        carrier.without([name])
    assert said in f"{refused.value} {refused.value.remedy}"


def test_the_last_output_cannot_be_dead() -> None:
    """Nothing would be left to look at."""
    with pytest.raises(OptionError, match="nothing would be left"):
        load_profile(PROFILES / "tank_pair.toml").without(["left", "right"])
