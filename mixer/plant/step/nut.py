"""A screw actuator within a step: the nut's speed and place, and the load it feels.

In terms of force along the screw, raising a load L takes L/e and lowering it takes L·lambda, with
e = the screw's efficiency and lambda = T_L·2·pi/lead per newton (negative where it runs down alone): the
load is a force L·(1/e - lambda)/2 with a dry friction of L·(1/e + lambda)/2 around it. What drives the nut
must leave that band; a self-locking screw holds zero drive inside it. Source: `screw`.
"""

import math
from typing import NamedTuple

from mixer.plant.parts.robot import Actuator, Robot
from mixer.plant.step.electric import Circuit, Moved, drive_of, moved_by
from mixer.plant.step.trace import Arithmetic, Value


class Nut(NamedTuple):
    """Where a nut is after the step, and the powers it spends."""

    extension: Value
    moved: Moved
    lifting: Value
    """Watts into the load."""
    gear: Value
    rubbing: Value
    """Watts into friction, and into the end when it is met."""


def nut_loads(robot: Robot, ops: Arithmetic, extensions: list[Value]) -> list[Value]:
    """Axial load of each actuator in N, positive against extending."""
    loads: list[Value] = [0.0] * len(extensions)
    for lift in robot.lifts:
        curve = lift.linkage.force_curve()
        sharing = len(lift.actuators)
        mean = sum(extensions[index] for index in lift.actuators) * (1 / sharing)
        for index in lift.actuators:
            push = ops.along(curve, extensions[index]) * (lift.load_n / sharing)
            loads[index] = loads[index] + push + (extensions[index] - mean) * lift.stiffness
    return loads


def move_nut(
    ops: Arithmetic, actuator: Actuator, circuit: Circuit, bus_v: Value, was: tuple[Value, Value],
    load: Value, seconds: float,
) -> Nut:  # fmt: skip
    """The nut after the step; it never leaves [0, travel]."""
    unit, drive = circuit.unit, drive_of(ops, circuit, bus_v, was[1])
    (extension, speed), now = was, unit.implicitness(seconds)
    middle, band = _load_band(actuator, load)
    push = speed * (unit.mass / seconds - drive.slope * (1 - now)) + drive.force - middle
    dry = ops.clamp(push, -band - drive.rub, band + drive.rub)
    ways = speed, (push - dry) / (unit.mass / seconds + drive.slope * now)
    free = moved_by(ops, circuit, drive, bus_v, ways, dry + middle, seconds).speed
    reached = ops.clamp(extension + (speed + free) * (seconds / 2), 0.0, actuator.travel)
    met = abs(reached - extension - (speed + free) * (seconds / 2)) > 1e-12
    after = ops.select(met, 0.0, free)
    at = unit.halfway(speed, after, seconds)
    way = (reached - extension) * (1 / seconds)
    lost = ops.select(met, (speed * speed) * (unit.mass / 2 / seconds), 0.0)
    rubbing = (dry + middle - load) * way + way * way * unit.viscous + lost
    return Nut(reached, Moved(after, at, circuit.current(ops, bus_v, at)), load * way, drive.gear, rubbing)


def _load_band(actuator: Actuator, load: Value) -> tuple[Value, Value]:
    """(force, dry friction around it) in N that a load sets against the nut."""
    turns = 2 * math.pi / actuator.screw.lead
    raising = actuator.screw.torque_to_raise(1.0) * turns
    lowering = actuator.screw.torque_to_lower(1.0) * turns
    return load * ((raising - lowering) / 2), abs(load) * ((raising + lowering) / 2)
