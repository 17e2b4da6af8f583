"""From profile to report: what is known is told with its limit, what is not is left out and named."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.cli.shared.console import as_data
from mixer.errors import ProfileError
from mixer.plant.from_profile import Prepared, prepare
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.motor import SheetPoints, motor_from_points
from mixer.plant.parts.robot import Opponent
from mixer.plant.plant import Plant
from mixer.plant.sizing.comparing import changes, with_motor
from mixer.plant.sizing.finding import Verdict
from mixer.plant.sizing.measures import Measures
from mixer.plant.sizing.performance import (
    push,
    pushing_speed,
    sprint,
    stopping_distance,
    top_speed,
    turn_rate,
)
from mixer.plant.sizing.report import Stretch, size
from mixer.profile.profile import load_profile, parse_profile
from tests.plant.invented import SMALL_MOTOR, tank

PROFILES = Path(__file__).parents[2] / "profiles"


@pytest.fixture(scope="module")
def carrier() -> Prepared:
    """The reference robot, with a short match so that the tests stay quick."""
    return replace(prepare(load_profile(PROFILES / "sample_carrier.toml").robot()), minutes=0.5)


@pytest.mark.parametrize("path", sorted(PROFILES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_example_in_every_loadout_drives(path: Path) -> None:
    """The examples bring data enough for speeds, push and currents."""
    profile = load_profile(path)
    for loadout in (None, *profile.loadouts):
        prepared = prepare(profile.robot(loadout))
        assert prepared.robot is not None
        assert 0.2 < top_speed(prepared.robot) < 8
        assert push(prepared.robot).newtons > 1


def test_report_has_every_section(carrier: Prepared) -> None:
    """Mass, drive, push, currents, battery, heat and lift, and it goes into JSON."""
    report = size(carrier)
    assert {finding.section for finding in report.findings} == {
        "mass", "drive", "push", "currents", "battery", "heat", "lift",
    }  # fmt: skip
    assert report.find("mass").verdict is Verdict.FINE
    assert report.find("stall_a.left_front").limit == 20
    assert "verdict" in as_data(report)["findings"][0]
    with pytest.raises(KeyError):
        report.find("nothing")


def test_overweight_and_overload_are_said(carrier: Prepared) -> None:
    """A class limit below the mass, a lift too weak and a tiny pack turn verdicts to over."""
    robot = carrier.robot
    assert robot is not None
    heavy = replace(robot, lifts=(replace(robot.lifts[0], load_n=2000.0),))
    small = replace(heavy, battery=replace(heavy.battery, capacity_ah=0.02, low_v=None))
    report = size(replace(carrier, robot=small, class_limit_kg=5.0))
    for key in ("mass", "lift.tray", "charge"):
        assert report.find(key).verdict is Verdict.OVER, key
    assert report.worst is Verdict.OVER


def test_unknown_data_leaves_out_what_needs_it() -> None:
    """Without battery, motors or wheels there is no speed, and the report names what is missing."""
    text = """
        [robot]
        name = "bare"
        [stick.throttle]
        receiver = 1
        [output.one]
        pin = 1
        mix = { throttle = 1.0 }
        """
    report = size(prepare(parse_profile(text, "bare.toml").robot()))
    assert report.findings == ()
    assert any("no [battery]" in words for words in report.left_out)


def test_a_recorded_drive_replaces_the_cycle(carrier: Prepared) -> None:
    """Standing still for the match uses next to no charge; full speed uses more than the cycle's half."""
    robot = carrier.robot
    assert robot is not None
    idle = size(carrier, drive=[Stretch([0.0] * 6, 1.0)]).find("charge").value
    full = size(carrier, drive=[Stretch([1.0] * 4 + [0.0] * 2, 1.0)]).find("charge").value
    assert idle == pytest.approx(0.0, abs=1e-9)
    assert full is not None
    assert full > 0.1


def test_progress_reaches_one(carrier: Prepared) -> None:
    """Progress rises from 0 to 1."""
    shares: list[float] = []
    size(carrier, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_another_motor_side_by_side(carrier: Prepared) -> None:
    """A motor with twice the torque constant is slower and draws less at stall per newton."""
    robot = carrier.robot
    assert robot is not None
    other = motor_from_points(SheetPoints(12, 4500, 0.25, 9, 0.215), inertia_kgm2=9e-6)
    swapped = with_motor(robot, "wheel", "slow", (other, Gearing(27, 0.75), robot.outputs[0].heat))
    rows = {row.key: row for row in changes(size(carrier), size(replace(carrier, robot=swapped)))}
    assert rows["top_speed"].percent == pytest.approx(-50, abs=5)
    assert rows["stall_a.left_front"].percent is not None
    assert rows["stall_a.left_front"].percent < -30
    with pytest.raises(ProfileError, match="wheel"):
        with_motor(robot, "nothing", "slow", (other, Gearing(), None))


def test_grip_or_torque_limits_the_push() -> None:
    """Little grip: grip x weight. Much grip: the motors' stall force after sag, gears and friction."""
    assert push(tank()).limited_by == "grip"
    assert push(tank()).newtons == pytest.approx(0.8 * 1.4 * 9.80665, rel=1e-6)
    sticky = tank()
    sticky = replace(sticky, wheels=tuple(replace(wheel, grip=30.0) for wheel in sticky.wheels))
    strong = push(sticky)
    assert strong.limited_by == "torque"
    motors = SMALL_MOTOR.at_temperature(25).parallel(4)
    current = (12.6 - 0.1) / (motors.resistance_ohm + 0.25 / 2 + sticky.battery.series_ohm)
    hand = (
        motors.constant * current * 0.75 - 0.75 * motors.friction_nm
    ) * 20 / 0.025 - 0.02 * 1.4 * 9.80665
    assert strong.newtons == pytest.approx(hand, rel=1e-3)


def test_pushing_an_opponent() -> None:
    """A light opponent is pushed slower than driving alone, one with more grip than ours not at all."""
    assert 0 < pushing_speed(tank(), Opponent(0.5, 0.5)) < top_speed(tank())
    assert pushing_speed(tank(), Opponent(3.0, 0.9)) == 0.0


def test_top_speed_by_hand() -> None:
    """No-load speed of the wheel on sagged volts less what rolling takes: the steady balance of forces."""
    robot = tank()
    speed = top_speed(robot)
    motors = SMALL_MOTOR.at_temperature(26).parallel(4)
    gears = 20 / 0.025
    force = 0.02 * 1.4 * 9.80665 + 0.75 * motors.friction_nm * gears
    current = force / (0.75 * motors.constant * gears)
    volts = robot.battery.rest_volts(1.0) - current * robot.battery.series_ohm - 0.1 - current * 0.125
    assert speed == pytest.approx(
        (volts - current * motors.resistance_ohm) / (motors.constant * gears), rel=0.01
    )


def test_sprint_stop_and_turn_are_consistent() -> None:
    """A longer way takes longer at a higher end speed; stopping is shorter with grip; turning is finite."""
    short, long = sprint(tank(), 0.5), sprint(tank(), 2.0)
    assert short is not None
    assert long is not None
    assert short.seconds < long.seconds
    assert short.speed <= long.speed
    slick = replace(tank(), wheels=tuple(replace(wheel, grip=0.2) for wheel in tank().wheels))
    assert 0 < stopping_distance(tank()) < stopping_distance(slick)
    assert 0 < turn_rate(tank()) < top_speed(tank()) / 0.07


def test_measures_of_a_stall() -> None:
    """Pushing a wall on sticky floor counts as stall on both sides, uses charge and warms the windings."""
    robot = replace(tank(), opponent=Opponent(1000.0, 5.0))
    robot = replace(robot, wheels=tuple(replace(wheel, grip=30.0) for wheel in robot.wheels))
    plant, measures = Plant(robot), Measures(robot)
    for _ in range(500):
        measures.add(plant.step([16384, 16384], 0.002), 0.002)
    assert measures.stalled_s == pytest.approx([1.0, 1.0], abs=0.1)
    assert measures.charge_ah == pytest.approx((1 - plant.value("charge")) * 0.85, rel=1e-3)
    hottest = measures.hottest()
    assert hottest is not None
    assert hottest[1] > 30
    assert measures.effective_a(0) == pytest.approx(measures.peak_output_a[0], rel=0.1)
