"""The tasks of a course, each a pure function of a scale: the ideal way, what stands on it, how it ends.

Every task begins where the robot stands after power-up, heading ahead. Lengths are multiples of the
course's unit (`scale`); gates and boxes go by the robot's reach.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from mixer.course.tasks.scale import Scale
from mixer.course.tasks.shapes import Box, Pen, Point, Post, length_of
from mixer.errors import OptionError

PIECE = 0.1
"""Pieces of a straight way, in units."""
MOST_POINTS = 400
"""Of a way that was drawn."""
PATIENCE, GRACE_S = 4.0, 15.0
"""A run is over when it takes so many times what full speed would, and so long on top."""


class Ends(Enum):
    """What a run is over by."""

    LINE = "the end of the way"
    BOX = "at rest in the box"
    TURNED = "at rest, half turned"


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to drive."""

    key: str
    name: str
    asks: str
    """What the driver is to do."""
    scale: Scale
    way: tuple[Point, ...]
    """The ideal way; a single point where the robot is to stay on the spot."""
    ends: Ends
    posts: tuple[Post, ...] = ()
    gate: tuple[Post, ...] = ()
    """Those two of the posts that make the gate."""
    box: Box | None = None

    @property
    def past_unit(self) -> str:
        """What an overshoot is measured in."""
        return "°" if self.ends is Ends.TURNED else "m"

    @property
    def limit_s(self) -> float:
        """When a run counts as not finished."""
        return PATIENCE * length_of(self.way) / self.scale.speed_mps + GRACE_S


def gate(scale: Scale) -> Task:
    """Through a gate, round a post behind it, and back through the gate.

    The loop is of three arcs of one radius, a sixth of a circle right, five sixths left, a sixth right: its
    ends meet where cos(60°) = 1/2.
    """
    unit = scale.unit
    bend, stem = 0.75 * unit, 2.5 * unit
    pen = Pen().ahead(stem, PIECE * unit).round(bend, -60).round(bend, 300).round(bend, -60)
    pen.ahead(stem, PIECE * unit)
    thick, wide = _post(scale), 1.5 * scale.reach_m
    sides = tuple(Post(2 * unit, side * (wide + thick), thick) for side in (1, -1))
    turn = Post(stem + math.sqrt(3) * bend, 0.0, thick)
    asks = "through the gate, left round the post behind it, and back through the gate to the start"
    return Task("gate", "gate and back", asks, scale, _way(pen), Ends.LINE, (*sides, turn), sides)


def eight(scale: Scale) -> Task:
    """A figure of eight: a circle to the left, one to the right, a post in the middle of each."""
    pen = Pen().round(scale.unit, 360).round(scale.unit, -360)
    posts = tuple(Post(0.0, side * scale.unit, _post(scale)) for side in (1, -1))
    asks = "round the left post, then round the right one, and back to the start"
    return Task("eight", "figure of eight", asks, scale, _way(pen), Ends.LINE, posts)


def box(scale: Scale) -> Task:
    """Ahead, and to rest in a box with all wheels."""
    way = _way(Pen().ahead(3 * scale.unit, PIECE * scale.unit))
    place = Box(*way[-1], 1.4 * scale.reach_m)
    return Task(
        "box",
        "stop in the box",
        "ahead, and to rest with all wheels in the box",
        scale,
        way,
        Ends.BOX,
        box=place,
    )


def half_turn(scale: Scale) -> Task:
    """Half a turn on the spot, either way round."""
    asks = "half a turn on the spot, either way round, and to rest"
    return Task("turn", "half turn", asks, scale, ((0.0, 0.0),), Ends.TURNED)


def line(scale: Scale) -> Task:
    """Along a line with two bends each way."""
    unit = scale.unit
    pen = Pen().ahead(unit, PIECE * unit).round(unit, 45).round(unit, -90).round(unit, 90).round(unit, -45)
    pen.ahead(unit / 2, PIECE * unit)
    return Task("line", "follow the line", "along the line to its end", scale, _way(pen), Ends.LINE)


def drawn(scale: Scale, driven: Sequence[Point]) -> Task:
    """A way that was driven once, to be driven again. Raises OptionError for one that leads nowhere."""
    way = thinned(driven, PIECE * scale.unit)
    if length_of(way) < scale.unit:
        raise OptionError(
            f"a way of {length_of(way):.2f} m is too short for a task of your own",
            f"drive {scale.unit:g} m or more",
        )
    return Task("own", "your own way", "along the way that you drove", scale, way, Ends.LINE)


TASKS = (gate, eight, box, half_turn, line)
"""Those that need no way driven before."""


def task_of(key: str, scale: Scale, way: Sequence[Point] = ()) -> Task:
    """A task by its key. Raises OptionError for an unknown one, or for a way that is too short."""
    found = {task.key: task for task in (make(scale) for make in TASKS)}
    if key == "own":
        return drawn(scale, way)
    if key not in found:
        raise OptionError(f"there is no task {key!r}", f"one of {', '.join([*found, 'own'])}")
    return found[key]


def thinned(points: Sequence[Point], piece: float) -> tuple[Point, ...]:
    """Every point that is a piece away from the one kept before, to the mm; `MOST_POINTS` at most."""
    piece = max(piece, length_of(points) / MOST_POINTS)
    kept: list[Point] = []
    for x, y in points:
        point = round(x, 3), round(y, 3)  # before it is measured: thinned again, a way stays as it is
        if not kept or math.dist(point, kept[-1]) >= piece:
            kept.append(point)
    return tuple(kept)


def _post(scale: Scale) -> float:
    """Radius of a post."""
    return 0.12 * scale.reach_m


def _way(pen: Pen) -> tuple[Point, ...]:
    return tuple((round(x, 6), round(y, 6)) for x, y in pen.points)
