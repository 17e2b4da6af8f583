"""The coupled step against scipy's solve_ivp on models small enough to write down by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from mixer.plant.parts.battery import Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import COPPER_PER_K, GRAVITY
from mixer.plant.parts.robot import Actuator, Lift, Output, Robot, Wheel
from mixer.plant.parts.screw import metric_screw
from mixer.plant.plant import Plant
from tests.plant.invented import SMALL_HEAT, SMALL_MOTOR, tank

STIFF = Battery(((0.0, 12.0), (1.0, 12.0)), 2.0, 0.1)


def straight_cart(grip: float = 0.9) -> Robot:
    """One output, two wheels, straight ahead only; 1.2 kg."""
    wheels = tuple(
        Wheel(f"w{y}", 0, 0.0, y, 0.03, 0.6 * GRAVITY, grip=grip, rolling=0.02) for y in (-0.1, 0.1)
    )
    output = Output("drive", Driver(resistance_ohm=0.1, brakes=True), SMALL_MOTOR, Gearing(15, 0.8), 2)
    return Robot("cart", STIFF, (output,), 1.2, 0.01, wheels)


def test_start_with_grip_agrees_with_solve_ivp() -> None:
    """Speed and way of a start without slip, one equation of motion, within 1 % of the final values."""
    robot = straight_cart(grip=3.0)
    motor, ratio, radius = SMALL_MOTOR, 15 / 0.03, 0.03
    ohm = motor.resistance_ohm * (1 + COPPER_PER_K * 5) / 2 + 0.1 + 0.1
    mass = 1.2 + 2 * motor.inertia_kgm2 * ratio**2
    lost = 0.02 * 1.2 * GRAVITY + 2 * 0.8 * motor.friction_nm * ratio

    def slope(_: float, state: np.ndarray) -> list[float]:
        current = (12 - motor.constant * ratio * state[0]) / ohm
        return [(0.8 * motor.constant * ratio * current - lost) / mass, state[0]]

    times = np.arange(0.02, 1.0, 0.02)
    exact = solve_ivp(slope, (0, 1), [0.0, 0.0], t_eval=times, rtol=1e-9, atol=1e-10)
    plant = Plant(robot)
    assert radius == robot.wheels[0].radius
    for speed, way in exact.y.T:
        for _ in range(10):
            plant.run_duties([1.0], 0.002)
        assert plant.value("vx") == pytest.approx(speed, abs=0.01 * exact.y[0][-1])
        assert plant.value("x") == pytest.approx(way, abs=0.01 * exact.y[1][-1])


def test_start_with_spinning_wheels_agrees_with_solve_ivp() -> None:
    """On ice the wheels spin up while the chassis gains mu·g less nothing: both within 1 % of solve_ivp."""
    robot = straight_cart(grip=0.12)
    motor, ratio = SMALL_MOTOR, 15 / 0.03
    ohm = motor.resistance_ohm * (1 + COPPER_PER_K * 5) / 2 + 0.2
    inertia = 2 * motor.inertia_kgm2 * ratio**2 + 2e-3
    lost = 0.02 * 1.2 * GRAVITY + 2 * 0.8 * motor.friction_nm * ratio
    most = 0.12 * 1.2 * GRAVITY

    def slope(_: float, state: np.ndarray) -> list[float]:
        rim, speed = state
        slip = rim - speed
        tyre = most * slip / math.hypot(slip, 0.01)
        current = (12 - motor.constant * ratio * rim) / ohm
        return [(0.8 * motor.constant * ratio * current - lost - tyre) / inertia, tyre / 1.2]

    times = np.arange(0.05, 1.0, 0.05)
    exact = solve_ivp(slope, (0, 1), [0.0, 0.0], t_eval=times, method="LSODA", rtol=1e-9, atol=1e-10)
    plant = Plant(robot)
    for rim, speed in exact.y.T:
        for _ in range(25):
            plant.run_duties([1.0], 0.002)
        assert plant.value("vx") == pytest.approx(speed, abs=0.01 * exact.y[1][-1])
        assert plant.value("wheel.w0.1.speed") == pytest.approx(rim, abs=0.01 * exact.y[0].max())


def test_coupled_battery_and_heat_agree_with_solve_ivp() -> None:
    """A stalled motor on a sagging pack with a slow pair: charge, pair volts and winding within 1 %."""
    battery = replace(
        STIFF, curve=((0.0, 9.0), (1.0, 12.6)), capacity_ah=0.05, pair_ohm=0.05, pair_farad=200.0
    )
    path = HeatPath(6.0, 20.0, 4.0, 200.0)
    motor = Motor(2.0, 0.01, 0.0, inertia_kgm2=1e-6)
    screw = metric_screw("M6", 0.2)
    actuator = Actuator("jack", 0, screw, 0.01, start=0.01)
    output = Output("jack", Driver(brakes=True), motor, Gearing(20, 0.5), 1, path)
    plant = Plant(Robot("jack", battery, (output,), actuators=(actuator,)))

    def slope(_: float, state: np.ndarray) -> list[float]:
        charge, pair, winding, case = state
        ohm = 2.0 * (1 + COPPER_PER_K * (25 + winding - 20))
        current = (9.0 + 3.6 * charge - pair) / (ohm + 0.1)
        warmth = (current**2 * ohm - (winding - case) / 6.0) / (path.winding_tau_s / path.winding_to_case)
        outside = ((winding - case) / 6.0 - case / 20.0) / path.case_capacity
        return [-current / 180, current / 200 - pair / 10, warmth, outside]

    exact = solve_ivp(slope, (0, 20), [1.0, 0.0, 0.0, 0.0], t_eval=[5, 10, 20], rtol=1e-9, atol=1e-11)
    for seconds, (charge, pair, winding, case) in zip((5, 5, 10), exact.y.T, strict=True):
        for _ in range(seconds * 500):
            plant.run_duties([1.0], 0.002)
        assert plant.value("charge") == pytest.approx(charge, rel=1e-2)
        assert plant.value("pair_v") == pytest.approx(pair, rel=1e-2)
        assert plant.value("output.jack.winding_rise") == pytest.approx(winding, rel=1e-2)
        assert plant.value("output.jack.case_rise") == pytest.approx(case, rel=1e-2)


def test_screw_travel_agrees_with_solve_ivp() -> None:
    """An actuator that raises 200 N over 30 mm of M6: place within 1 % of the way."""
    screw = metric_screw("M6", 0.15)
    lift = Lift("table", Linkage("wedge", 0.03, slope=math.pi / 4), (0,), 200.0)
    output = Output("jack", Driver(brakes=True), SMALL_MOTOR, Gearing(20, 0.9))
    plant = Plant(
        Robot("jack", STIFF, (output,), actuators=(Actuator("jack", 0, screw, 0.03),), lifts=(lift,))
    )
    turns = 20 * 2 * math.pi / screw.lead
    ohm = SMALL_MOTOR.resistance_ohm * (1 + COPPER_PER_K * 5) + 0.1
    load = screw.torque_to_raise(200.0) * 2 * math.pi / screw.lead + 0.9 * SMALL_MOTOR.friction_nm * turns
    mass = SMALL_MOTOR.inertia_kgm2 * turns**2

    def slope(_: float, state: np.ndarray) -> list[float]:
        current = (12 - SMALL_MOTOR.constant * turns * state[1]) / ohm
        return [state[1], (0.9 * SMALL_MOTOR.constant * turns * current - load) / mass]

    exact = solve_ivp(slope, (0, 0.5), [0.0, 0.0], t_eval=np.arange(0.05, 0.5, 0.05), rtol=1e-9, atol=1e-12)
    for place, _ in exact.y.T:
        for _ in range(25):
            plant.run_duties([1.0], 0.002)
        assert plant.snapshot().extension_m[0] == pytest.approx(place, abs=0.01 * exact.y[0][-1])
    assert exact.y[0][-1] > 0.003


def test_braking_falls_off_exponentially() -> None:
    """Shorted terminals without friction: w0·exp(-t·K²/(R·J)), from the closed form (Dubey, ch. 5.9)."""
    motor = Motor(1.0, 0.02, inertia_kgm2=2e-5)
    output = Output("flywheel", Driver(brakes=True), motor)
    wheel = Wheel("w", 0, 0.0, 0.0, 0.02, 0.0, grip=0.0)
    plant = Plant(Robot("flywheel", replace(STIFF, resistance_ohm=0.0), (output,), wheels=(wheel,)))
    for _ in range(200):
        plant.run_duties([1.0], 0.002)
    start = plant.value("wheel.w.speed")
    turns = 1 / 0.02
    tau = (2e-5 * turns**2 + 1e-3) / (motor.damping * turns**2 / (1 + COPPER_PER_K * 5))
    for step in range(1, 50):
        plant.run_duties([0.0], 0.002)
        assert plant.value("wheel.w.speed") == pytest.approx(
            start * math.exp(-step * 0.002 / tau), abs=0.01 * start
        )


def test_skid_turn_spin_up_agrees_with_a_dense_reference() -> None:
    """A skid-steered turn on the spot: turn rate within 1 % of its end against solve_ivp of the same body.

    Written out for two wheels a side: scrub, slip and wheel inertia, friction circle at each contact.
    """
    robot = tank(2, battery=replace(STIFF, resistance_ohm=0.0))
    motor, radius, lever, reach = SMALL_MOTOR, 0.025, 0.07, 0.06
    turns = 20 / radius
    ohm = motor.resistance_ohm * (1 + COPPER_PER_K * 5) + 0.5
    inertia = motor.inertia_kgm2 * turns**2 + 1e-3
    normal = 1.4 * GRAVITY / 4
    rub = 0.75 * motor.friction_nm * turns + 0.02 * normal

    def slope(_: float, state: np.ndarray) -> list[float]:
        rim, turn = state
        slip, sideways = rim - turn * lever, turn * reach
        scale = 0.8 * normal / math.sqrt(slip**2 + sideways**2 + 1e-4)
        current = (12 - 0.1 - motor.constant * turns * rim) / ohm
        force = 0.75 * motor.constant * turns * current - rub * math.tanh(rim / 1e-4)
        yaw = 4 * scale * (slip * lever - sideways * reach)
        return [(force - scale * slip) / inertia, yaw / 0.006]

    times = np.arange(0.02, 0.6, 0.02)
    exact = solve_ivp(slope, (0, 0.6), [0.0, 0.0], t_eval=times, method="LSODA", rtol=1e-8, atol=1e-9)
    cold = replace(SMALL_HEAT, winding_tau_s=1e6, case_tau_s=1e9)
    robot = replace(robot, outputs=tuple(replace(output, heat=cold) for output in robot.outputs))
    plant = Plant(robot)
    for _, turn in exact.y.T:
        for _ in range(10):
            plant.run_duties([-1.0, 1.0], 0.002)
        assert plant.value("turn") == pytest.approx(turn, abs=0.012 * exact.y[1][-1])


def planar_reference(
    robot: Robot, duties: tuple[float, float], start: np.ndarray, seconds: float
) -> np.ndarray:
    """A four-wheeled tank as one stiff ODE: (rims, vx, vy, turn, x, y, yaw) after `seconds`, by solve_ivp.

    Written apart from the step: dry friction as a steep tanh, everything continuous in time.
    """
    turns, ohm = 20 / 0.025, SMALL_MOTOR.resistance_ohm * (1 + COPPER_PER_K * 5) + 0.5
    inertia = SMALL_MOTOR.inertia_kgm2 * turns**2 + 1e-3
    constant = SMALL_MOTOR.constant * turns

    def slope(_: float, state: np.ndarray) -> np.ndarray:
        vx, vy, turn, yaw = state[4], state[5], state[6], state[9]
        out = np.zeros(10)
        fx = fy = torque = 0.0
        for index, wheel in enumerate(robot.wheels):
            rim = state[index]
            slip, sideways = rim - (vx - turn * wheel.y), vy + turn * wheel.x
            scale = wheel.grip * wheel.load_n / math.sqrt(slip**2 + sideways**2 + 1e-4)
            duty = duties[wheel.output]
            current = (12 * duty - 0.1 * np.sign(duty) - constant * rim) / ohm
            driving = current * rim >= 0
            drive = constant * current * (0.75 if driving else 1.0)
            rub = 0.75 * SMALL_MOTOR.friction_nm * turns + 0.02 * wheel.load_n
            rub += 0.0 if driving else abs(current) * constant * (1 / (2 - 1 / 0.75) - 1)
            out[index] = (drive - rub * math.tanh(rim / 1e-3) - scale * slip) / inertia
            fx, fy = fx + scale * slip, fy - scale * sideways
            torque += -wheel.y * scale * slip - wheel.x * scale * sideways
        out[4], out[5] = fx / robot.mass_kg + turn * vy, fy / robot.mass_kg - turn * vx
        out[6], out[9] = torque / robot.yaw_inertia_kgm2, turn
        out[7], out[8] = vx * math.cos(yaw) - vy * math.sin(yaw), vx * math.sin(yaw) + vy * math.cos(yaw)
        return out

    return solve_ivp(slope, (0, seconds), start, method="LSODA", rtol=1e-7, atol=1e-9, max_step=0.01).y[
        :, -1
    ]


def test_a_drive_with_turns_and_reversals_agrees_with_a_dense_reference() -> None:
    """Ahead, arc, spin, reverse: place within 1 % of the way, heading within 1 % of all turning."""
    robot = tank(2, battery=replace(STIFF, resistance_ohm=0.0))
    cold = replace(SMALL_HEAT, winding_tau_s=1e6, case_tau_s=1e9)
    robot = replace(robot, outputs=tuple(replace(output, heat=cold) for output in robot.outputs))
    plant, state, way, turned = Plant(robot), np.zeros(10), 0.0, 0.0
    for left, right in ((1, 1), (0.5, 0.9), (-1, 1), (-1, -1), (1, -1), (0.6, 0.5)):
        before = state.copy()
        state = planar_reference(robot, (left, right), state, 0.25)
        for _ in range(125):
            plant.run_duties([left, right], 0.002)
        way += math.dist(before[7:9], state[7:9])
        turned += abs(state[9] - before[9])
        place = (plant.value("x"), plant.value("y"))
        assert math.dist(place, state[7:9]) < 0.01 * max(way, 0.3)
        assert plant.value("yaw") == pytest.approx(state[9], abs=0.01 * max(turned, 1.0))
        assert plant.value("vx") == pytest.approx(state[4], abs=0.02)


def test_a_spinning_wheel_over_ground_at_rest_pushes_on() -> None:
    """While wheels spin where the floor stands still beneath them, the chassis is not held there."""
    robot = tank(2, battery=replace(STIFF, resistance_ohm=0.0))
    plant = Plant(robot)
    start = {
        "vx": -0.48,
        "turn": 0.48 / 0.07,
        **{f"wheel.{wheel.name}.speed": -1.2 for wheel in robot.wheels},
    }
    for name, value in start.items():
        plant.state[plant.layout.state_index(name)] = value
    rims = np.array([-1.2] * 4 + [-0.48, 0.0, 0.48 / 0.07, 0.0, 0.0, 0.0])
    after = planar_reference(robot, (-1, -1), rims, 0.05)
    for _ in range(25):
        plant.run_duties([-1.0, -1.0], 0.002)
    assert plant.value("turn") == pytest.approx(after[6], abs=0.03 * start["turn"])
    assert plant.value("vx") == pytest.approx(after[4], abs=0.02)
