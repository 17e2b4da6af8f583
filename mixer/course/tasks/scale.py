"""How large a course is: from the robot's own size and speed, in round numbers.

A round number stays when the tuning changes a little, so that runs of two days are of the same course. The
steps are the preferred numbers of ISO 3, series R10: ten to a decade, each a quarter more than the last.
"""

import math
from typing import NamedTuple

from mixer.course.tasks.shapes import Footprint
from mixer.errors import OptionError
from mixer.live.robot.robot import Build, with_physics
from mixer.plant.parts.robot import Robot
from mixer.sizing.drive import fastest, top_speed
from mixer.sizing.trial import AHEAD, AROUND, Trial, sticks_for

R10 = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
"""ISO 3:1973, table 1."""
LEAST_MPS = 0.02
REACHES, SECONDS = 3.0, 0.8
"""A course's unit is three times the robot's reach, or its way in 0.8 s at full speed where that is more:
a bend of it then turns at most about 1.2 rad/s (tried out by hand; no source)."""


class Scale(NamedTuple):
    """What a course is sized by."""

    reach_m: float
    """From the robot's middle to the furthest corner of what its wheels stand in."""
    speed_mps: float
    """Its top speed as a preferred number."""

    @property
    def unit(self) -> float:
        """The radius of a bend in m; every other length is a multiple."""
        return preferred(max(REACHES * self.reach_m, SECONDS * self.speed_mps))


def preferred(value: float) -> float:
    """The nearest preferred number of series R10, by ratio. `value` > 0."""
    decade = float(10.0 ** math.floor(math.log10(value)))
    near = [step * power for power in (decade, 10 * decade) for step in R10]
    best = min(near, key=lambda step: abs(math.log(step / value)))
    return round(best, 12)


def footprint_of(robot: Robot) -> Footprint:
    """The rectangle round the hubs of all wheels, a radius longer at both ends; 0.1 m wide at least."""
    half = max([0.05, *(abs(wheel.y) for wheel in robot.wheels)])
    ends = [(wheel.x - wheel.radius, wheel.x + wheel.radius) for wheel in robot.wheels]
    return Footprint(min(low for low, _ in ends), max(high for _, high in ends), -half, half)


def scale_of(build: Build) -> Scale:
    """A robot's size, and its speed by driving it. Raises OptionError for one that cannot drive there."""
    robot = with_physics(build).prepared.robot
    assert robot is not None
    trial = Trial(build)
    drives = all(sticks_for(build.plan, robot, way) for way in (AHEAD, AROUND))
    speed = top_speed(trial, fastest(trial)) if drives and trial.goes_live else 0.0
    if speed < LEAST_MPS:
        raise OptionError(
            "this robot cannot drive a course: it does not drive ahead and turn by its sticks",
            "see what `stickwright check` and `size` say of it",
        )
    return Scale(round(footprint_of(robot).reach, 4), preferred(speed))
