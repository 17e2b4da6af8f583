"""The moving masses of a robot as the step needs them: every motor referred to the way it moves something.

A wheel's unit moves along its driving direction, an actuator's unit along its screw. With g = gear turns
per metre (rad/m), one motor gives K·g newtons per ampere before gear losses and K·g volts per m/s, and
its rotor weighs J·g² kilograms (Dubey, sec. 2.3, referred inertia). A motor that nothing feeds is carried
along: its rotor adds to the mass, its friction comes through the gearing backwards.
"""

import math
from dataclasses import dataclass

from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.robot import Actuator, Output, Robot, Wheel
from mixer.plant.step.trace import Value

LEAST_MASS = 1e-3
"""kg; what a unit weighs at least, so that a wheel of unknown inertia stays solvable."""
QUICKEST_S = 0.002
"""Shortest mechanical time constant of a driven unit; small brushed motors have 3 to 20 ms."""
SEIZED_N = 1e6
"""Friction of a shaft that does not turn any more."""


@dataclass(frozen=True, slots=True)
class Unit:
    """Numbers of one moving mass; forces in N, speeds in m/s, resistances in ohm a motor."""

    output: int
    motors: float
    """How many motors are fed; 0 for a wheel that only rolls."""
    per_amp: float
    """N per A of one motor before gear losses, and V per m/s: K·g."""
    gearing: Gearing
    mass: float
    rotor_rub: float
    """Friction of the fed motors in N, before the gearing."""
    rolling: float
    """Rolling loss in N."""
    dragged: float
    """Friction of motors that nothing feeds, behind the gearing, in N."""
    viscous: float
    cold_ohm: float
    driver: Driver
    sharing: float
    """Motors that share the channel's bridge with this unit, its own among them."""

    @property
    def channel_ohm(self) -> float:
        """Bridge resistance as one of the motors sees it: times the motors that share it."""
        return self.driver.resistance_ohm * self.sharing

    @property
    def limit(self) -> float | None:
        """This unit's share of the channel's current limit, in A."""
        limit = self.driver.limit_a
        return None if limit is None else limit * self.motors / self.sharing

    def implicitness(self, seconds: float) -> float:
        """How much of the motor's speed is taken at the step's end.

        1/2 (second order) while the unit is slow enough, towards 1 for one so light that it would swing
        about its speed otherwise.
        """
        damping = self.motors * self.per_amp**2 / (self.cold_ohm + self.channel_ohm) + self.viscous
        quickness = seconds * damping / self.mass
        return max(0.5, 1 - 1 / quickness) if quickness > 0 else 0.5

    def halfway(self, before: Value, after: Value, seconds: float) -> Value:
        """The speed between two at which a step's current is taken."""
        share = self.implicitness(seconds)
        return after * share + before * (1 - share)


def wheel_unit(robot: Robot, wheel: Wheel) -> Unit:
    """The unit of a wheel: its share of the output's motors, and its own inertia and rolling loss."""
    output = robot.outputs[wheel.output] if wheel.output >= 0 else None
    own = wheel.inertia_kgm2 / wheel.radius**2
    rolling = SEIZED_N if wheel.seized else wheel.rolling * wheel.normal_n
    rub, dead = 0.0, wheel.dragged
    if dead is not None:
        turns = dead.gearing.ratio / wheel.radius
        own += dead.count * dead.motor.inertia_kgm2 * turns**2
        rub = dead.gearing.held_torque(dead.count * dead.motor.friction_nm) / wheel.radius
    motors = robot.motors_at(wheel)
    if not motors or output is None:
        return Unit(-1, 0.0, 0.0, Gearing(), own + LEAST_MASS, 0.0, rolling, rub, 0.0, 1.0, Driver(), 1.0)
    sharing = sum(robot.motors_at(other) for other in robot.wheels if other.output == wheel.output)
    return _driven(output, wheel.output, (motors, sharing), 1 / wheel.radius, own, (rolling, rub))


def actuator_unit(robot: Robot, actuator: Actuator) -> Unit:
    """The unit of an actuator's nut; several actuators may share an output."""
    output = robot.outputs[actuator.output]
    sharing = sum(other.output == actuator.output for other in robot.actuators)
    motors, turns = output.count / sharing, 2 * math.pi / actuator.screw.lead
    held = SEIZED_N if actuator.seized else 0.0
    return _driven(output, actuator.output, (motors, output.count), turns, 0.0, (held, 0.0))


def _driven(
    output: Output, index: int, motors: tuple[float, float], turns: float, mass: float,
    rubs: tuple[float, float],
) -> Unit:  # fmt: skip
    motor = output.motor
    assert isinstance(motor, Motor)
    turns = turns * output.gearing.ratio
    inertia = mass + motors[0] * motor.inertia_kgm2 * turns**2 + LEAST_MASS
    return Unit(
        output=index,
        motors=motors[0],
        per_amp=motor.constant * turns,
        gearing=output.gearing,
        mass=max(inertia, QUICKEST_S * motors[0] * motor.damping * turns**2),
        rotor_rub=motor.friction_nm * turns * motors[0],
        rolling=rubs[0],
        dragged=rubs[1],
        viscous=motor.viscous_nms * turns**2 * motors[0],
        cold_ohm=motor.resistance_ohm,
        driver=output.driver,
        sharing=motors[1],
    )
