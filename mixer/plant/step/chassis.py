"""Plane motion of a chassis on its wheels: kinematics without slip, and which duties drive which way.

Differential drive v = (vR + vL)/2, w = (vR - vL)/W and the pose after constant speeds as an SE(2)
exponential: Siegwart & Nourbakhsh, Introduction to Autonomous Mobile Robots, sec. 3.2; Lynch & Park,
Modern Robotics, sec. 13.3. A skid-steered chassis turns slower than this; see `performance.turn_rate`.
"""

import math

from mixer.plant.robot import Robot
from mixer.plant.step.motion import driving_direction

Pose = tuple[float, float, float]


def differential_speeds(left: float, right: float, track: float) -> tuple[float, float]:
    """(forward m/s, turn rad/s left positive) of two wheels that roll without slip."""
    return (right + left) / 2, (right - left) / track


def wheel_speeds(forward: float, turn: float, track: float) -> tuple[float, float]:
    """(left, right) wheel speeds in m/s that give a motion."""
    return forward - turn * track / 2, forward + turn * track / 2


def pose_after(pose: Pose, forward: float, turn: float, seconds: float) -> Pose:
    """The pose (x, y, heading in rad) after constant speeds: a circular arc, exactly."""
    x, y, heading = pose
    angle = turn * seconds
    if abs(angle) < 1e-9:
        middle = heading + angle / 2
        way = forward * seconds
        return x + way * math.cos(middle), y + way * math.sin(middle), heading + angle
    radius = forward / turn
    after = heading + angle
    return (
        x + radius * (math.sin(after) - math.sin(heading)),
        y - radius * (math.cos(after) - math.cos(heading)),
        after,
    )


def duties_for(robot: Robot, forward: float, left: float, turn: float) -> list[float]:
    """One duty an output for a direction of motion, the largest at full.

    Each output gets the mean speed its wheels have in that motion (`turn` in rad/s about the middle).
    Outputs without wheels get 0.
    """
    speeds = []
    for index in range(len(robot.outputs)):
        ways = [driving_direction(wheel) for wheel in robot.wheels if wheel.output == index]
        total = sum(way.x * forward + way.y * left + way.arm * turn for way in ways)
        speeds.append(total / len(ways) if ways else 0.0)
    most = max((abs(speed) for speed in speeds), default=0.0)
    return [speed / most if most > 1e-9 else 0.0 for speed in speeds]
