"""Ways, posts and boxes on the floor. World axes: x ahead of the start, y to its left, in m."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

Point = tuple[float, float]
TURNS = 48
"""Pieces of a whole circle: its chords stay within 0.25 % of the radius of it."""


class Post(NamedTuple):
    """Something to drive round or between, that stands still when it is touched."""

    x: float
    y: float
    radius: float


class Box(NamedTuple):
    """A square on the floor, its sides along the axes."""

    x: float
    y: float
    half: float

    def holds(self, corners: Sequence[Point]) -> bool:
        """Whether all of these are in it."""
        return all(max(abs(x - self.x), abs(y - self.y)) <= self.half for x, y in corners)


class Pose(NamedTuple):
    """Where the robot stands: m, and rad from the x axis, left positive."""

    x: float
    y: float
    yaw: float

    def world(self, ahead: float, left: float) -> Point:
        """A point of the robot's own axes on the floor."""
        cosine, sine = math.cos(self.yaw), math.sin(self.yaw)
        return self.x + ahead * cosine - left * sine, self.y + ahead * sine + left * cosine

    def own(self, x: float, y: float) -> Point:
        """A point of the floor in the robot's own axes."""
        cosine, sine = math.cos(self.yaw), math.sin(self.yaw)
        return (x - self.x) * cosine + (y - self.y) * sine, (y - self.y) * cosine - (x - self.x) * sine


class Footprint(NamedTuple):
    """The rectangle that the wheels stand in, in the robot's own axes."""

    back: float
    front: float
    right: float
    left: float

    @property
    def reach(self) -> float:
        """From the robot's middle to its furthest corner."""
        return max(math.hypot(x, y) for x in (self.back, self.front) for y in (self.right, self.left))

    def corners(self, pose: Pose) -> list[Point]:
        """Its corners on the floor."""
        return [pose.world(x, y) for x in (self.back, self.front) for y in (self.right, self.left)]

    def touches(self, post: Post, pose: Pose) -> bool:
        """Whether it stands against a post."""
        ahead, left = pose.own(post.x, post.y)
        beyond = max(self.back - ahead, 0.0, ahead - self.front)
        beside = max(self.right - left, 0.0, left - self.left)
        return math.hypot(beyond, beside) <= post.radius


class Pen:
    """Draws a way: straight on, and round in arcs."""

    def __init__(self) -> None:
        """At the start, heading ahead."""
        self.pose = Pose(0.0, 0.0, 0.0)
        self.points: list[Point] = [(0.0, 0.0)]

    def ahead(self, metres: float, piece: float) -> "Pen":
        """Straight on, in pieces of about a length."""
        start, count = self.pose, max(1, round(metres / piece))
        self.points += [start.world(metres * number / count, 0.0) for number in range(1, count + 1)]
        self.pose = Pose(*self.points[-1], start.yaw)
        return self

    def round(self, radius: float, degrees: float) -> "Pen":
        """An arc, to the left for positive degrees."""
        start, side = self.pose, math.copysign(1.0, degrees)
        count = max(1, round(abs(degrees) / 360 * TURNS))
        for number in range(1, count + 1):
            turned = math.radians(abs(degrees)) * number / count
            self.points.append(
                start.world(radius * math.sin(turned), side * radius * (1 - math.cos(turned)))
            )
        self.pose = Pose(*self.points[-1], start.yaw + math.radians(degrees))
        return self


def length_of(points: Sequence[Point]) -> float:
    """Length of a way in m."""
    return math.fsum(math.dist(a, b) for a, b in pairwise(points))
