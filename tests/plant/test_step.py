"""The coupled step: one meaning in three forms, energy, step length, mirror images."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.errors import ProfileError
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.robot import Opponent, Output, Robot, flipped
from mixer.plant.plant import LanePlant, Plant, step_function
from mixer.plant.step.advance import advance
from mixer.plant.step.trace import FloatArithmetic, Trace
from tests.lengths import cases
from tests.plant.invented import drive_output, many_motored, pack, tank
from tests.plant.ways import duties_for, step_duties

DRIVE = (
    (1, 0, 0.5),
    (0.4, 0, 0.3),
    (0.7, 0.5, 0.4),
    (0, 1, 0.5),
    (-1, 0, 0.5),
    (0, 0, 0.3),
    (0.3, -0.6, 0.5),
)
"""(forward, turn, s)."""


def limited() -> Robot:
    """A tank whose drivers limit at 2 A."""
    base = tank()
    return replace(
        base, outputs=tuple(drive_output(output.name, 2, limit_a=2.0) for output in base.outputs)
    )


def coasting() -> Robot:
    """A tank whose drivers coast at zero."""
    base = tank()
    return replace(
        base, outputs=tuple(drive_output(output.name, 2, brakes=False) for output in base.outputs)
    )


def worm_driven() -> Robot:
    """A tank on gears that lock backwards."""
    base = tank()
    outputs = tuple(replace(output, gearing=Gearing(30, 0.45)) for output in base.outputs)
    return replace(base, outputs=outputs)


CASES = {
    "tank": tank, "four wheels a side": lambda: tank(4), "many": many_motored, "limited": limited,
    "coasting": coasting, "worm": worm_driven,
    "pushing": lambda: replace(tank(), opponent=Opponent(1.2, 0.4)),
}  # fmt: skip


def drive(robot: Robot, seconds: float, plan: tuple[tuple[float, float, float], ...] = DRIVE) -> Plant:
    """Run a fixed drive in steps of `seconds`, outputs slewed by 100 ms from zero to full."""
    plant = Plant(robot)
    sent = [0.0] * len(robot.outputs)
    ahead, around = duties_for(robot, 1, 0, 0), duties_for(robot, 0, 0, 1)
    for forward, turn, length in plan:
        duties = [max(-1.0, min(1.0, forward * a + turn * b)) for a, b in zip(ahead, around, strict=True)]
        for actuator in robot.actuators:
            duties[actuator.output] = float(forward)
        for _ in range(round(length / seconds)):
            sent = [
                was + max(-10 * seconds, min(10 * seconds, to - was))
                for was, to in zip(sent, duties, strict=True)
            ]
            plant.run_duties(sent, seconds)
    return plant


@pytest.mark.parametrize("name", CASES)
def test_energy_closes(name: str) -> None:
    """What the cells gave is found again in losses, work and motion, within 1 % (first law)."""
    account = drive(CASES[name](), 0.002).energies()
    given_out = account.pop("battery")
    assert sum(account.values()) == pytest.approx(given_out, rel=0.01)


@pytest.mark.parametrize("name", CASES)
def test_no_loss_is_negative(name: str) -> None:
    """Friction, slip, copper and gears only ever take (second law)."""
    account = drive(CASES[name](), 0.002).energies()
    for loss in ("copper", "driver", "inner", "gearing", "friction", "rolling", "slip", "push"):
        assert account[loss] >= -1e-9, loss


@pytest.mark.parametrize("name", ["tank", "many", "pushing"])
def test_two_milliseconds_are_short_enough(name: str) -> None:
    """Against 0.1 ms, over turns and reversals of a light robot: charge, copper and heading within 1.5 %.

    The example logs stay under 1 %, see `test_example_logs`.
    """
    plan = tuple((forward, turn, 0.3) for forward, turn, _ in DRIVE)
    coarse, fine = drive(CASES[name](), 0.002, plan), drive(CASES[name](), 0.0001, plan)
    assert 1 - coarse.value("charge") == pytest.approx(1 - fine.value("charge"), rel=0.015)
    assert coarse.value("yaw") == pytest.approx(fine.value("yaw"), rel=0.015)
    assert coarse.energies()["copper"] == pytest.approx(fine.energies()["copper"], rel=0.015)


@given(st.lists(st.floats(-1, 1), min_size=10, max_size=10), st.integers(0, 40))
@settings(max_examples=25)
def test_compiled_step_is_the_reference_step(duties: list[float], before: int) -> None:
    """Straight-line Python and numpy lanes give what the step gives on plain floats."""
    robot = many_motored()
    plant = Plant(robot)
    for _ in range(before):
        plant.run_duties([1.0] * 10, 0.002)
    reference = advance(robot, FloatArithmetic(), plant.state, duties, 0.002)
    lanes = LanePlant(robot, 3)
    lanes.state = [np.full(3, value) for value in plant.state]
    lanes.run_duties(duties, 0.002)
    compiled = step_function(robot, 0.002)(plant.state, duties)
    assert compiled == pytest.approx(reference, rel=1e-12, abs=1e-15)
    assert [float(value[1]) for value in lanes.state + lanes.seen] == pytest.approx(
        reference, rel=1e-9, abs=1e-12
    )


def test_lanes_are_independent() -> None:
    """Each lane does what a robot of its own does."""
    robot = tank()
    lanes = LanePlant(robot, 3)
    alone = [Plant(robot) for _ in range(3)]
    duties = [np.array([1.0, -0.5, 0.2]), np.array([1.0, 0.5, -0.7])]
    function = step_function(robot, 0.002)
    for _ in range(60):
        lanes.run_duties(duties, 0.002)
        for number, plant in enumerate(alone):
            result = function(plant.state, [float(duty[number]) for duty in duties])
            plant.state = result[: len(plant.state)]
    for number, plant in enumerate(alone):
        assert [float(value[number]) for value in lanes.state] == pytest.approx(
            plant.state, rel=1e-9, abs=1e-12
        )


@pytest.mark.parametrize("duties", [(1.0, 0.7), (0.4, -0.4)])
def test_lanes_that_rest_are_where_they_would_be(duties: tuple[float, float]) -> None:
    """Speeds alone, settled lanes resting: the way of a drive and a stop within 0.5 % of one robot's."""
    robot = tank()
    lanes, plant = LanePlant(robot, 2, wanted=("vx", "vy")), Plant(robot)
    ways = [0.0, 0.0]
    for tick in range(300):
        now = duties if tick < 150 else (0.0, 0.0)
        lanes.run_duties([np.array([0.0, duty]) for duty in now], 0.01)
        seen = step_duties(plant, now, 0.01)
        ways[0] += 0.01 * float(np.hypot(lanes.value("vx"), lanes.value("vy"))[1])
        ways[1] += 0.01 * float(np.hypot(seen.vx, seen.vy))
    assert ways[0] == pytest.approx(ways[1], rel=0.005)
    assert float(lanes.value("vx")[0]) == 0.0


def test_symbols_have_no_truth() -> None:
    """A step that branched on data would raise while it is traced."""
    with pytest.raises(TypeError, match="no truth value"):
        bool(Trace().inputs("s", 1)[0] > 0)


@given(st.floats(-1, 1), st.floats(-1, 1))
@settings(max_examples=15)
def test_mirrored_duties_mirror_the_motion(left: float, right: float) -> None:
    """Sides exchanged: same way forward, opposite sideways and turn (rounding may tip a friction early)."""
    one, other = Plant(tank()), Plant(tank())
    for _ in range(150):
        one.run_duties([left, right], 0.002)
        other.run_duties([right, left], 0.002)
    assert one.value("x") == pytest.approx(other.value("x"), abs=1e-4)
    assert one.value("y") == pytest.approx(-other.value("y"), abs=1e-4)
    assert one.value("yaw") == pytest.approx(-other.value("yaw"), abs=1e-3)


@given(st.floats(-1, 1), st.floats(-1, 1))
@settings(max_examples=10)
def test_on_its_back_sides_change_and_wheels_push_the_other_way(left: float, right: float) -> None:
    """Upside down (left, right) acts as (-right, -left), as the core's flip stage derives it."""
    up, down = Plant(tank()), Plant(flipped(tank()))
    for _ in range(150):
        up.run_duties([left, right], 0.002)
        down.run_duties([-right, -left], 0.002)
    for name in ("x", "y", "yaw"):
        assert down.value(name) == pytest.approx(up.value(name), abs=1e-3)


GRID = list(product([0.0, 1e-9, 4e-7, 1e-4], [0.05, 0.9, 4.0], [0.0005, 0.002, 0.01]))


@pytest.mark.parametrize(
    ("inertia", "grip", "seconds"), cases(GRID[::5], [case for at, case in enumerate(GRID) if at % 5])
)
def test_the_step_is_stable(inertia: float, grip: float, seconds: float) -> None:
    """Whatever rotor, floor and step: nothing outruns the no-load speed, and all comes to rest."""
    base = tank()
    motor = replace(base.outputs[0].motor, inertia_kgm2=inertia)
    robot = replace(
        base,
        outputs=tuple(replace(output, motor=motor) for output in base.outputs),
        wheels=tuple(replace(wheel, grip=grip, magnet_n=20.0) for wheel in base.wheels),
    )
    fastest = motor.at_torque(12.6, 0.0).speed / 20 * 0.025
    plant = Plant(robot)
    for forward in (1.0, -1.0, 0.0):
        for _ in range(round(0.8 / seconds)):
            plant.run_duties([forward, forward * 0.6], seconds)
            assert max(abs(speed) for speed in plant.snapshot().wheel_mps) < 1.05 * fastest
    for _ in range(round(3.0 / seconds)):
        plant.run_duties([0.0, 0.0], seconds)
    assert abs(plant.value("vx")) < 1e-3
    assert abs(plant.value("turn")) < 2e-2


def test_sag_is_solved_not_lagged() -> None:
    """At standstill bus volts and currents satisfy V = OCV - R·I to rounding in the very first step."""
    robot = replace(tank(), outputs=tuple(drive_output(name, 2, drop_v=0.0) for name in ("left", "right")))
    heavy = replace(robot, mass_kg=1e6, wheels=tuple(replace(wheel, grip=50.0) for wheel in robot.wheels))
    plant = Plant(heavy)
    plant.run_duties([1.0, 1.0], 1e-5)
    battery = robot.battery
    current = plant.value("battery_a")
    assert plant.value("bus_v") == pytest.approx(
        battery.rest_volts(1.0) - battery.series_ohm * current, rel=1e-3
    )
    assert current > 5


def test_low_voltage_stop_waits_and_holds() -> None:
    """Below low_v for a second the drives are cut for good; a shorter dip is bridged."""
    robot = replace(tank(), battery=replace(pack(), low_v=12.55))
    plant = Plant(robot)
    for _ in range(400):
        plant.run_duties([1.0, 1.0], 0.002)
    assert not plant.snapshot().cut
    for _ in range(300):
        plant.run_duties([1.0, 1.0], 0.002)
    # top speed alone does not sag this far: drop the charge
    low = Plant(robot, charge=0.6)
    for _ in range(800):
        low.run_duties([1.0, 1.0], 0.002)
    assert low.snapshot().cut
    assert low.snapshot().output_a == pytest.approx((0.0, 0.0), abs=0.05)


def test_a_step_of_nothing_is_refused() -> None:
    """The step length is checked before anything is traced."""
    with pytest.raises((ProfileError, ZeroDivisionError)):
        Plant(tank()).run_duties([0, 0], 0.0)


def test_an_output_without_motor_draws_nothing() -> None:
    """What has no data is left out of the physics and does not disturb the rest."""
    base = tank()
    robot = replace(base, outputs=(*base.outputs, Output("lamp", Driver())))
    plant = Plant(robot)
    for _ in range(100):
        plant.run_duties([1.0, 1.0, 1.0], 0.002)
    assert plant.value("output.lamp.current") == 0.0
    assert plant.value("vx") > 0.5
