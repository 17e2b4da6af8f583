"""Actuators without physics: they move by their travel time and press their end stops at the ends.

Positions are shares of the travel, 0 in to 1 out: a number for one robot, an array over many.
"""

from collections.abc import Iterator
from typing import Any, TypeAlias

import numpy as np

from mixer.core.plan import ActuatorPlan, Plan
from mixer.profile.schema.root import Robot

USUAL_TRAVEL_MS = 4000.0
"""Where a profile gives no travel time, because something has to move."""
END = 0.001
"""How near to its end, as a share of its travel, an actuator presses a switch."""

Floats: TypeAlias = Any
"""A float, or an array of them."""


def travel_times(plan: Plan, profile: Robot) -> tuple[float, ...]:
    """For each actuator the time of its whole travel at full command, in ms."""
    known = {name: actuator.full_travel_ms for name, actuator in profile.actuator.items()}
    return tuple(float(known.get(actuator.name) or USUAL_TRAVEL_MS) for actuator in plan.actuators)


def moved(position: Floats, way: Floats) -> Floats:
    """A position after a way, no further than the ends."""
    wanted = position + way
    return np.clip(wanted, 0.0, 1.0) if isinstance(wanted, np.ndarray) else min(max(wanted, 0.0), 1.0)


def driven(position: Floats, duty: Floats, seconds: float, travel_ms: float) -> Floats:
    """A position after a time at a duty from -1 to 1."""
    return moved(position, duty * seconds * 1000 / travel_ms)


def pressed(actuator: ActuatorPlan, position: Floats) -> Iterator[tuple[int, Any]]:
    """The contacts of an actuator's end stops, and whether each is pressed (a bool, or an array)."""
    if actuator.out_stop is not None:
        yield actuator.out_stop, position >= 1 - END
    if actuator.in_stop is not None:
        yield actuator.in_stop, position <= END
