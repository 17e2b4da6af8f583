"""What rolls, drags, rubs and tips, run through the coupled step, against formulas of texts and sheets."""

import math

import pytest

from mixer.plant.from_profile import stance_of
from mixer.plant.parts.battery import Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Actuator, Dragged, Lift, Output, Robot, Skid, Wheel
from mixer.plant.parts.screw import Screw
from mixer.plant.plant import Plant
from mixer.profile.profile import parse_profile
from tests.published.tables import rows_of

PACK = Battery(((0.0, 12.0), (1.0, 12.0)), 100.0)


def rolling(mass: float, loss: float, **more: object) -> Robot:
    """A cart on four wheels without a motor."""
    wheels = tuple(
        Wheel(f"w{x}{y}", -1, x, y, 0.05, mass * GRAVITY / 4, grip=1.0, rolling=loss, **more)  # type: ignore[arg-type]
        for x in (-0.1, 0.1) for y in (-0.1, 0.1)
    )  # fmt: skip
    return Robot("cart", PACK, (Output("none"),), mass, 0.02, wheels)


def let_roll(robot: Robot, speed: float) -> tuple[float, float]:
    """(way in m, time in s) from a speed to rest with nothing told."""
    plant = Plant(robot)
    for slot, name in enumerate(plant.layout.state):
        if name == "vx" or name.endswith(".speed"):
            plant.state[slot] = speed
    while plant.value("vx") > 1e-3 and plant.seconds < 60:
        plant.run_duties([0.0] * len(robot.outputs), 0.002)
    return plant.value("x"), plant.seconds


@pytest.mark.parametrize("loss", [0.01, 0.03])
def test_coast_down_under_rolling_loss(loss: float) -> None:
    """Constant deceleration Crr·g: v0²/(2·Crr·g), v0/(Crr·g) (coast-down of SAE J1263, from memory).

    The wheels' own 4 g count as mass that rolls.
    """
    way, seconds = let_roll(rolling(4.0, loss), 1.5)
    heavier = (4.0 + 4 * 1e-3) / 4.0
    assert way == pytest.approx(heavier * 1.5**2 / (2 * loss * GRAVITY), rel=0.01)
    assert seconds == pytest.approx(heavier * 1.5 / (loss * GRAVITY), rel=0.01)


@pytest.mark.parametrize("efficiency", [1.0, 0.8, 0.6])
def test_a_dead_gearmotor_drags_by_its_friction_through_the_gearing_backwards(efficiency: float) -> None:
    """F = Tf·N/(r·eb) with eb = 2 - 1/e (classical, for equal friction both ways); rotors weigh J·N²/r².

    Tf 1.6 oz·in and J of Ametek Pittman 14203S010 (`motors_datasheet.csv`).
    """
    row = next(row for row in rows_of("motors_datasheet.csv") if row["model"] == "14203S010")
    inertia = float(row["J_kgm2"])
    motor = Motor(0.35, float(row["Kt_Nm_A"]), float(row["Tf_Nm"]), inertia_kgm2=inertia)
    ratio, radius, mass = 10.0, 0.05, 6.0
    robot = rolling(mass, 0.0, dragged=Dragged(motor, Gearing(ratio, efficiency), 1.0))
    drag = 4 * motor.friction_nm * ratio / radius / (2 - 1 / efficiency)
    heavy = mass + 4 * (motor.inertia_kgm2 * (ratio / radius) ** 2 + 1e-3)
    way, _ = let_roll(robot, 1.0)
    assert drag < mass * GRAVITY
    assert way == pytest.approx(heavy * 1.0 / (2 * drag), rel=0.02)


def test_an_open_motor_drags_like_a_dead_one() -> None:
    """A controller that coasts lets its wheels roll as if nothing fed them: the same friction."""
    motor, gearing = Motor(0.5, 0.03, 0.004, inertia_kgm2=1e-5), Gearing(12.0, 0.75)
    wheels = rolling(5.0, 0.01, dragged=Dragged(motor, gearing)).wheels
    dead = Robot("dead", PACK, (Output("none"),), 5.0, 0.02, wheels)
    driven = tuple(
        Wheel(w.name, 0, w.x, w.y, w.radius, w.load_n, grip=w.grip, rolling=w.rolling) for w in wheels
    )
    output = Output("all", Driver(brakes=False), motor, gearing, 4)
    open_ended = Robot("open", PACK, (output,), 5.0, 0.02, driven)
    assert let_roll(open_ended, 1.2) == pytest.approx(let_roll(dead, 1.2), rel=0.01)


def test_a_skid_rubs_with_its_share_of_the_weight() -> None:
    """Sliding friction mu·N of the weight on it: a = mu·N/m (Coulomb, any text; numbers by hand)."""
    robot = rolling(4.0, 0.0)
    rubbing = Robot(
        "nose", PACK, robot.outputs, 4.0, 0.02, robot.wheels, skids=(Skid("nose", 0.15, 0.0, 10.0, 0.4),)
    )
    way, _ = let_roll(rubbing, 1.0)
    assert way == pytest.approx(4.004 * 1.0 / (2 * 0.4 * 10.0), rel=0.02)


def test_a_collar_takes_its_torque_in_the_running_screw() -> None:
    """Shigley, example 8-1: 6.4 kN on a double square thread with collar take 26.18 N·m, without 15.94.

    Printed results from memory, inputs seen. The motor gives it in steady travel.
    """
    for friction, torque in ((0.08, 26.18), (0.0, 15.94)):
        screw = Screw(0.030, 0.008, 0.08, 0.0, friction, 0.040)
        lift = Lift("press", Linkage("wedge", 0.5, slope=math.pi / 4), (0,), 6400.0)
        motor = Motor(0.1, 1.0, inertia_kgm2=1e-3)
        robot = Robot(
            "press", PACK, (Output("jack", Driver(brakes=True), motor, Gearing(5.0)),),
            actuators=(Actuator("jack", 0, screw, 0.5),), lifts=(lift,),
        )  # fmt: skip
        plant = Plant(robot)
        for _ in range(500):
            plant.run_duties([1.0], 0.002)
        assert plant.value("actuator.jack.speed") > 0
        assert plant.value("output.jack.current") * 5.0 == pytest.approx(torque, rel=2e-3)


LIFTER = """
[robot]
name = "lifter"
[stick.throttle]
receiver = 1
[output.drive]
pin = 1
mix = {{ throttle = 1.0 }}
[chassis]
mass_kg = 8.0
centre_of_gravity_m = [0.02, 0.0, 0.05]
[wheel.fl]
output = "drive"
x_m = 0.1
y_m = 0.1
diameter_m = 0.06
[wheel.fr]
x_m = 0.1
y_m = -0.1
diameter_m = 0.06
[wheel.rl]
x_m = -0.1
y_m = 0.1
diameter_m = 0.06
[wheel.rr]
x_m = -0.1
y_m = -0.1
diameter_m = 0.06
{more}
"""


@pytest.mark.parametrize("arm", [0.05, 0.16, 0.3])
def test_tipping_over_the_front_axle(arm: float) -> None:
    """A load P at an arm ahead of the axle tips the robot once P·arm > W·b (lever law, any statics text).

    By hand: b = 80 mm behind the axle, 8 kg, so 0.64 kg·m.
    """
    robot = parse_profile(LIFTER.format(more=""), "lifter.toml").robot()
    limit = 8.0 * 0.08 / arm
    for factor, falls in ((0.98, False), (1.02, True)):
        stance = stance_of(robot, limit * factor, (0.1 + arm, 0.0))
        assert stance.tips is falls
    rear = dict(stance_of(robot, limit * 0.98, (0.1 + arm, 0.0)).loads_n)
    assert rear["rl"] == pytest.approx(0.02 * 8.0 * GRAVITY * 0.08 / 0.2 / 2, rel=1e-6)


def test_a_skid_in_front_keeps_it_from_tipping() -> None:
    """A nose on the floor 200 mm ahead of the axle carries P·arm/200 mm more than nothing (lever law)."""
    robot = parse_profile(LIFTER.format(more="[skid.nose]\nx_m = 0.3\n"), "lifter.toml").robot()
    stance = stance_of(robot, 6.0, (0.26, 0.0))
    assert not stance.tips
    assert dict(stance.loads_n)["skid nose"] > 0
    assert sum(load for _, load in stance.loads_n) == pytest.approx(14.0 * GRAVITY)
