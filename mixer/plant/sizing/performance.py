"""What a robot reaches: speeds, sprint, stopping, turning, pushing. Found by running the plant.

All start from a charge share of the pack (full unless told), cold, level floor. Source: the coupled step.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from mixer.plant.parts.heat import copper_factor
from mixer.plant.parts.robot import Opponent, Robot
from mixer.plant.plant import Plant
from mixer.plant.step.chassis import duties_for
from mixer.plant.step.electric import circuit_of, drive_of, solve_bus
from mixer.plant.step.trace import FloatArithmetic
from mixer.plant.step.units import wheel_unit

STEP_S = 0.002
LONGEST_S = 20.0


@dataclass(frozen=True, slots=True)
class Sprint:
    """From standstill over a distance."""

    seconds: float
    speed: float
    """m/s at the end."""
    peak_a: float
    lowest_v: float


@dataclass(frozen=True, slots=True)
class Push:
    """Standing push against something that does not move."""

    newtons: float
    limited_by: Literal["grip", "torque"]
    torque_n: float
    """What the motors could push at standstill on endless grip."""
    grip_n: float
    """What the floor could take from endless torque."""


def top_speed(robot: Robot, charge: float = 1.0) -> float:
    """Steady forward speed at full command, in m/s, once it changes less than 0.1 % in 0.2 s."""
    plant = Plant(robot, charge=charge)
    _settle(plant, duties_for(robot, 1, 0, 0), lambda: plant.value("vx"))
    return plant.value("vx")


def turn_rate(robot: Robot, charge: float = 1.0) -> float:
    """Steady turn rate on the spot at full command, in rad/s, scrub included."""
    plant = Plant(robot, charge=charge)
    _settle(plant, duties_for(robot, 0, 0, 1), lambda: plant.value("turn"))
    return plant.value("turn")


def _settle(plant: Plant, duties: Sequence[float], look: Callable[[], float]) -> None:
    before = math.inf
    while plant.seconds < LONGEST_S:
        for _ in range(100):
            plant.run_duties(duties, STEP_S)
        now = look()
        if abs(now - before) <= 1e-3 * abs(now) + 1e-6:
            return
        before = now


def sprint(robot: Robot, distance: float, charge: float = 1.0) -> Sprint | None:
    """Time over a distance in m from standstill at full command; None if it is not reached in 20 s."""
    plant = Plant(robot, charge=charge)
    duties = duties_for(robot, 1, 0, 0)
    peak, lowest = 0.0, math.inf
    while plant.seconds < LONGEST_S:
        before = plant.value("x")
        plant.run_duties(duties, STEP_S)
        peak, lowest = max(peak, plant.value("battery_a")), min(lowest, plant.value("bus_v"))
        now = plant.value("x")
        if now >= distance:
            late = (now - distance) / (now - before) * STEP_S
            return Sprint(plant.seconds - late, plant.value("vx"), peak, lowest)
    return None


def stopping_distance(robot: Robot, charge: float = 1.0) -> float:
    """Way in m from top speed to rest after the command falls to zero (drivers brake or coast)."""
    plant = Plant(robot, charge=charge)
    _settle(plant, duties_for(robot, 1, 0, 0), lambda: plant.value("vx"))
    start, begun = plant.value("x"), plant.seconds
    while plant.value("vx") > 1e-3 and plant.seconds < begun + LONGEST_S:
        plant.run_duties([0.0] * len(robot.outputs), STEP_S)
    return plant.value("x") - start


def push(robot: Robot, charge: float = 1.0, winding_c: float | None = None) -> Push:
    """Standing push forward at full command, the battery's sag solved with all motors stalled."""
    ops = FloatArithmetic()
    warm = copper_factor(robot.air_c if winding_c is None else winding_c)
    duties = duties_for(robot, 1, 0, 0)
    rest_v = robot.battery.rest_volts(charge)
    units = [wheel_unit(robot, wheel) for wheel in robot.wheels]
    circuits = [
        circuit_of(ops, unit, duties[unit.output] if unit.motors else 0.0, warm, 0.0, None)
        for unit in units
    ]
    still = [0.0] * len(circuits)
    bus_v = solve_bus(robot, ops, circuits, still, rest_v, rest_v, 20)
    torque = grip = both = 0.0
    for wheel, unit, circuit in zip(robot.wheels, units, circuits, strict=True):
        ahead = abs(math.cos(wheel.angle))
        drive = drive_of(ops, circuit, bus_v, 0.0)
        wheel_n = max(abs(drive.force) - drive.rub, 0.0) * ahead
        most = wheel.most_n * ahead if unit.motors else 0.0
        torque, grip, both = torque + wheel_n, grip + most, both + min(wheel_n, most)
    return Push(both, "grip" if grip <= torque else "torque", torque, grip)


def pushing_speed(robot: Robot, opponent: Opponent, charge: float = 1.0) -> float:
    """Steady speed in m/s while pushing another robot along; 0 if it does not move."""
    plant = Plant(replace(robot, opponent=opponent), charge=charge)
    _settle(plant, duties_for(robot, 1, 0, 0), lambda: plant.value("vx"))
    speed = plant.value("vx")
    return speed if speed > 0.02 else 0.0
