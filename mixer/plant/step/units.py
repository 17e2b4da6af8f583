"""The moving masses of a robot as the step needs them: every motor referred to the way it moves something.

A wheel's unit moves along its driving direction, an actuator's unit along its screw. With g = gear turns
per metre (rad/m), one motor gives K·g newtons per ampere before gear losses and K·g volts per m/s, and
its rotor weighs J·g² kilograms (Dubey, sec. 2.3, referred inertia).
"""

import math
from dataclasses import dataclass

from mixer.plant.parts.gearing import LEAST_BACKWARDS
from mixer.plant.robot import Actuator, Output, Robot, Wheel

LEAST_MASS = 1e-3
"""kg; what a unit weighs at least, so that a wheel of unknown inertia stays solvable."""
QUICKEST_S = 0.002
"""Shortest mechanical time constant of a driven unit; small brushed motors have 3 to 20 ms."""


@dataclass(frozen=True, slots=True)
class Unit:
    """Numbers of one moving mass; forces in N, speeds in m/s, resistances in ohm a motor."""

    output: int
    motors: float
    per_amp: float
    """N per A of one motor before gear losses, and V per m/s: K·g."""
    driving: float
    """Gear efficiency while the motor drives."""
    holding: float
    """Gear friction while the load drives, as a share of the motor's braking force: 1/backwards - 1."""
    mass: float
    friction: float
    """Constant friction in N, rolling loss included."""
    rolling: float
    """The part of `friction` that is rolling loss."""
    viscous: float
    cold_ohm: float
    channel_ohm: float
    """Bridge resistance as one of the motors sees it: times the motors that share it."""
    drop: float
    limit: float | None
    """This unit's share of the channel's current limit, in A."""
    brakes: bool

    def implicitness(self, seconds: float) -> float:
        """How much of the motor's speed is taken at the step's end.

        1/2 (second order) while the unit is slow enough, towards 1 for one so light that it would swing
        about its speed otherwise.
        """
        damping = self.motors * self.per_amp**2 / (self.cold_ohm + self.channel_ohm) + self.viscous
        quickness = seconds * damping / self.mass
        return max(0.5, 1 - 1 / quickness) if quickness > 0 else 0.5


def wheel_unit(robot: Robot, wheel: Wheel) -> Unit:
    """The unit of a wheel: its share of the output's motors, and its own inertia and rolling loss."""
    motors = robot.motors_at(wheel)
    rolling = wheel.rolling * wheel.normal_n
    own = wheel.inertia_kgm2 / wheel.radius**2
    if not motors:
        return Unit(
            -1, 0.0, 0.0, 1.0, 1.0, own + LEAST_MASS, rolling, rolling, 0.0, 1.0, 0.0, 0.0, None, False
        )
    output = robot.outputs[wheel.output]
    return _driven(output, wheel.output, motors, output.gearing.ratio / wheel.radius, own, rolling)


def actuator_unit(robot: Robot, actuator: Actuator) -> Unit:
    """The unit of an actuator's nut; several actuators may share an output."""
    output = robot.outputs[actuator.output]
    sharing = sum(other.output == actuator.output for other in robot.actuators)
    turns = output.gearing.ratio * 2 * math.pi / actuator.screw.lead
    return _driven(output, actuator.output, output.count / sharing, turns, 0.0, 0.0)


def _driven(output: Output, index: int, motors: float, turns: float, mass: float, rolling: float) -> Unit:
    motor, driver = output.motor, output.driver
    assert motor is not None
    limit = None if driver.limit_a is None else driver.limit_a * motors / output.count
    inertia = mass + motors * motor.inertia_kgm2 * turns**2 + LEAST_MASS
    return Unit(
        output=index,
        motors=motors,
        per_amp=motor.constant * turns,
        driving=output.gearing.efficiency,
        holding=1 / max(output.gearing.backwards, LEAST_BACKWARDS) - 1,
        mass=max(inertia, QUICKEST_S * motors * motor.damping * turns**2),
        friction=motor.friction_nm * output.gearing.efficiency * turns * motors + rolling,
        rolling=rolling,
        viscous=motor.viscous_nms * turns**2 * motors,
        cold_ohm=motor.resistance_ohm,
        channel_ohm=driver.resistance_ohm * output.count,
        drop=driver.drop_v,
        limit=limit,
        brakes=driver.brakes,
    )
