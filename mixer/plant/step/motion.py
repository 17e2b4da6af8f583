"""Speeds, directions and pose of a chassis in the plane, in its own axes (x forward, y left)."""

import math
from typing import NamedTuple

from mixer.plant.parts.robot import Wheel
from mixer.plant.step.trace import Arithmetic, Value


class Body(NamedTuple):
    """Speeds of the centre of gravity forward and left in m/s, and turn rate in rad/s (left positive)."""

    vx: Value
    vy: Value
    turn: Value

    def along(self, x: float, y: float, arm: float) -> Value:
        """Speed of a point in the direction (x, y), `arm` being the direction's lever about the centre."""
        return self.vx * x + self.vy * y + self.turn * arm

    def in_turned_axes(self, seconds: float) -> "Body":
        """The same motion in the body's axes once it has turned on (Cayley's rotation, exact length)."""
        half = self.turn * (seconds / 2)
        scale = 1.0 / (1.0 + half * half)
        cosine, sine = (1.0 - half * half) * scale, half * 2.0 * scale
        return Body(self.vx * cosine + self.vy * sine, self.vy * cosine - self.vx * sine, self.turn)


def pose_after(ops: Arithmetic, pose: list[Value], mean: Body, seconds: float) -> list[Value]:
    """(x, y, yaw) after a step with its mean speeds, given in the axes at the middle of its turn."""
    x, y, yaw = pose
    turned = mean.turn * seconds
    heading = yaw + turned * 0.5
    cosine, sine = ops.cosine(heading), ops.sine(heading)
    forward, left = mean.vx * seconds, mean.vy * seconds
    return [x + forward * cosine - left * sine, y + forward * sine + left * cosine, yaw + turned]


def middle(before: Body, after: Body) -> Body:
    """Mean speeds of a step; the powers of a step are taken at them, so that work equals kinetic energy."""
    return Body(*((was + now) * 0.5 for was, now in zip(before, after, strict=True)))


class Direction(NamedTuple):
    """A direction in the body's axes and its lever about the centre of gravity."""

    x: float
    y: float
    arm: float


def driving_direction(wheel: Wheel) -> Direction:
    """Where the wheel pushes to; multiples of 90 degrees are exact."""
    x, y = round(math.cos(wheel.angle), 15), round(math.sin(wheel.angle), 15)
    return Direction(x, y, wheel.x * y - wheel.y * x)


def cross_direction(wheel: Wheel) -> Direction:
    """A quarter turn left of the driving direction."""
    x, y, _ = driving_direction(wheel)
    return Direction(-y, x, wheel.x * x + wheel.y * y)
