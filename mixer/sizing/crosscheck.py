"""A screw actuator as a whole, by formula: cross-checks of what the runs of `travel` find.

Gearmotor (see `motor`, `gearing`) on a screw (see `screw`): push F at motor torque T is
F = T·ratio·e_gear / (T_R per newton); the nut moves lead·turns. Pushes are at the screw, before a linkage.
"""

import math
from dataclasses import replace
from typing import NamedTuple

from mixer.plant.parts.motor import Motor
from mixer.plant.parts.robot import Actuator, Output, Robot

POINTS = 20
"""At which a travel is looked at."""


def most_push(robot: Robot, index: int) -> float:
    """Axial force in N of an actuator at stall, sag and driver included."""
    actuator, output, sharing, motor = _drive_of(robot, index)
    ohm = motor.resistance_ohm + output.driver.resistance_ohm + robot.battery.series_ohm
    volts = max(robot.battery.rest_volts(1.0) - output.driver.drop_v, 0.0)
    current = output.driver.limited(volts / ohm)
    torque = max(motor.constant * current - motor.friction_nm, 0.0) / sharing
    return output.gearing.output_torque(torque) / actuator.screw.torque_to_raise(1.0)


def travel_seconds(robot: Robot, index: int) -> float | None:
    """Time of the whole way out by the motor's line at each place, start-up left out; None if it stalls.

    t = sum(dx/u) with u where the motor's torque meets the load's
    (see `motor`, `gearing`, `screw`). Volts are those of a full pack, the driver's resistance in the path.
    """
    actuator, output, sharing, motor = _drive_of(robot, index)
    motor = replace(motor, resistance_ohm=motor.resistance_ohm + output.driver.resistance_ohm)
    volts = output.driver.motor_volts(1.0, robot.battery.rest_volts(1.0))
    seconds = 0.0
    for point in range(POINTS):
        load = _load_at(robot, index, actuator.travel * (point + 0.5) / POINTS)
        torque = output.gearing.motor_torque(actuator.screw.torque_to_raise(load)) * sharing
        turning = motor.at_torque(volts, torque).speed / output.gearing.ratio
        if turning <= 0:
            return None
        seconds += actuator.travel / POINTS / (turning * actuator.screw.lead / (2 * math.pi))
    return seconds


class _Drive(NamedTuple):
    """What moves an actuator."""

    actuator: Actuator
    output: Output
    sharing: int
    """How many actuators its output feeds."""
    motor: Motor
    """All motors of the output as one, as warm as the air."""


def _drive_of(robot: Robot, index: int) -> _Drive:
    actuator = robot.actuators[index]
    output = robot.outputs[actuator.output]
    assert output.motor is not None
    sharing = sum(other.output == actuator.output for other in robot.actuators)
    return _Drive(
        actuator, output, sharing, output.motor.parallel(output.count).at_temperature(robot.air_c)
    )


def _load_at(robot: Robot, index: int, extension: float) -> float:
    """Axial load in N of an actuator at an extension, its lift's load shared equally."""
    lifts = [lift for lift in robot.lifts if index in lift.actuators]
    return sum(lift.linkage.ratio(extension) * lift.load_n / len(lift.actuators) for lift in lifts)
