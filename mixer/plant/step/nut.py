"""A screw actuator within a step: the nut's speed and place, and the load it feels.

In terms of force along the screw, raising a load L takes L/e and lowering it takes L·lambda, with
e = the screw's efficiency and lambda = T_L·2·pi/lead per newton (negative where it runs down alone): the
load is a force L·(1/e - lambda)/2 with a dry friction of L·(1/e + lambda)/2 around it. What drives the nut
must leave that band; a self-locking screw holds zero drive inside it. Source: `screw`.
"""

import math
from typing import NamedTuple

from mixer.plant.robot import Actuator, Robot
from mixer.plant.step.electric import Circuit, force_line
from mixer.plant.step.trace import Arithmetic, Value


class Nut(NamedTuple):
    """Where a nut is after the step, and the powers it spends."""

    extension: Value
    speed: Value
    lifting: Value
    """Watts into the load."""
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
    unit = circuit.unit
    extension, speed = was
    turns = 2 * math.pi / actuator.screw.lead
    raising = actuator.screw.torque_to_raise(1.0) * turns
    lowering = actuator.screw.torque_to_lower(1.0) * turns
    force, slope = force_line(ops, circuit, bus_v)
    now = unit.implicitness(seconds)
    push = speed * (unit.mass / seconds - slope * (1 - now)) + force - load * ((raising - lowering) / 2)
    band = abs(load) * ((raising + lowering) / 2) + unit.friction + circuit.drag
    dry = ops.clamp(push, -band, band)
    free = (push - dry) / (unit.mass / seconds + slope * now)
    reached = ops.clamp(extension + (speed + free) * (seconds / 2), 0.0, actuator.travel)
    met = abs(reached - extension - (speed + free) * (seconds / 2)) > 1e-12
    moved = ops.select(met, 0.0, free)
    way = (reached - extension) * (1 / seconds)
    lost = ops.select(met, (speed * speed) * (unit.mass / 2 / seconds), 0.0)
    lifting = load * way
    rubbing = (dry + load * ((raising - lowering) / 2)) * way - lifting + way * way * unit.viscous + lost
    return Nut(reached, moved, lifting, rubbing)
