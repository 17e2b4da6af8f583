"""Screw actuators in the coupled step: end stops, self-locking, shared loads."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.plant.from_profile import prepare
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.robot import Actuator, Lift, Output, Robot
from mixer.plant.parts.screw import Screw, metric_screw
from mixer.plant.plant import Plant, contact_readings
from mixer.profile.profile import load_profile
from mixer.sizing.crosscheck import most_push
from tests.plant.invented import SMALL_MOTOR, pack


def jacks(screw: Screw, load_n: float = 0.0, count: int = 1, **more: object) -> Robot:
    """`count` actuators side by side, each on an output of its own, under one wedge of 45 degrees."""
    motor = (Driver(brakes=False), SMALL_MOTOR, Gearing(10, 0.8))
    outputs = tuple(Output(f"j{number}", *motor) for number in range(count))
    actuators = tuple(
        Actuator(f"j{number}", number, screw, 0.02, **more)  # type: ignore[arg-type]
        for number in range(count)
    )
    lift = Lift("table", Linkage("wedge", 0.02, slope=0.7853981633974483), tuple(range(count)), load_n)
    return Robot("jacks", pack(), outputs, actuators=actuators, lifts=(lift,))


def run(plant: Plant, duties: list[float], seconds: float) -> Plant:
    """Run in steps of 2 ms."""
    for _ in range(round(seconds / 0.002)):
        plant.run_duties(duties, 0.002)
    return plant


def test_seen_stops_close_before_the_end_and_the_motor_stalls_there() -> None:
    """With the command kept on the nut rests at its end, the contact closed, the current at stall."""
    robot = jacks(metric_screw("M5", 0.2), stops="seen", out_contact="out", in_contact="in")
    plant = Plant(robot)
    assert plant.contacts() == {"out": False, "in": True}
    run(plant, [1.0], 4.0)
    seen = plant.snapshot()
    assert seen.contacts == {"out": True, "in": False}
    assert seen.extension_m == pytest.approx((0.02,))
    ohm = SMALL_MOTOR.at_temperature(25).resistance_ohm + robot.battery.series_ohm
    assert seen.output_a[0] == pytest.approx(
        robot.battery.rest_volts(plant.value("charge")) / ohm, rel=0.01
    )


def test_switches_in_the_circuit_block_one_way_and_free_the_other() -> None:
    """At the stop no current flows outwards; inwards it flows through the diode, with its drop."""
    plant = run(Plant(jacks(metric_screw("M5", 0.2), stops="circuit")), [1.0], 4.0)
    seen = plant.snapshot()
    assert seen.output_a == (0.0,)
    assert 0.0195 <= seen.extension_m[0] <= 0.02
    plant.run_duties([-1.0], 0.002)
    assert plant.snapshot().output_a[0] < -0.1
    assert abs(plant.snapshot().output_v[0]) == pytest.approx(plant.value("bus_v") - 0.7, abs=0.01)
    run(plant, [-1.0], 4.0)
    assert plant.snapshot().extension_m[0] < 0.0006


def test_a_locking_screw_holds_its_load_and_a_steep_one_runs_down() -> None:
    """Motor off: M5 stays where it is, a ball-like screw of 10 mm lead and little friction comes down."""
    steep = Screw(0.008, 0.010, 0.03)
    assert not steep.locks
    for screw, falls in ((metric_screw("M5", 0.2), False), (steep, True)):
        robot = jacks(screw, 300.0)
        robot = replace(robot, actuators=(replace(robot.actuators[0], start=0.015),))
        plant = run(Plant(robot), [0.0], 1.0)
        assert (plant.snapshot().extension_m[0] < 0.014) is falls


def test_two_on_one_load_drift_apart() -> None:
    """One motor with more friction lags; a stiff table pulls the two together again."""
    robot = jacks(metric_screw("M5", 0.2), 60.0, 2)
    weak = replace(SMALL_MOTOR, friction_nm=3 * SMALL_MOTOR.friction_nm)
    robot = replace(robot, outputs=(robot.outputs[0], replace(robot.outputs[1], motor=weak)))
    apart = []
    for stiffness in (0.0, 3e5):
        tied = replace(robot, lifts=(replace(robot.lifts[0], stiffness=stiffness),))
        seen = run(Plant(tied), [1.0, 1.0], 0.8).snapshot()
        apart.append(seen.extension_m[0] - seen.extension_m[1])
    assert apart[0] > 1e-4
    assert abs(apart[1]) < 0.3 * apart[0]


def test_push_is_what_the_step_can_hold() -> None:
    """A load 5 % under the calculated push is raised, one 5 % over is not (two ways to the same number)."""
    robot = jacks(metric_screw("M5", 0.2))
    newtons = most_push(robot, 0)
    plant = run(Plant(jacks(metric_screw("M5", 0.2), 0.95 * newtons)), [1.0], 2.0)
    assert plant.snapshot().extension_m[0] > 1e-4
    plant = run(Plant(jacks(metric_screw("M5", 0.2), 1.05 * newtons)), [1.0], 2.0)
    assert plant.snapshot().extension_m[0] == pytest.approx(0.0, abs=1e-6)


def test_contacts_feed_back_to_the_board() -> None:
    """A closed contact reads its `closed_reads`, an open or unpressed one the other level."""
    profile = load_profile(Path(__file__).parents[2] / "profiles" / "sample_carrier.toml")
    plan, robot = profile.plan(), prepare(profile.robot()).robot
    assert robot is not None
    closed = Plant(robot).contacts()
    assert closed == {"left_out": False, "left_in": True, "right_out": False, "right_in": True}
    assert contact_readings(plan, closed) == [0, 1, 0, 1]
    assert contact_readings(plan, {}) == [0, 0, 0, 0]
