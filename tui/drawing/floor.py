"""The robot on the floor from above: hull, wheels and what they push, slip, and where it has been.

World axes: x right, y up, in m. The view has a middle and a scale (dots per m).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, cos, floor, hypot, pi, sin

from mixer.course.tasks.shapes import Pose
from tui.drawing.canvas import Canvas, Point
from tui.drawing.rows import Row

INKS = ("text", "faint", "line", "trail", "hull", "dim", "minus", "plus", "warn!", "live!")
_DOT, _CROSS, _TRAIL, _HULL, _TYRE, _BACK, _FORTH, _SLIP, _NOSE = range(1, 10)


@dataclass(frozen=True, slots=True)
class Tyre:
    """One wheel, robot axes (x forward, y left), m."""

    x: float
    y: float
    angle: float
    radius: float
    push: float
    """Share of the strongest push there is, signed along `angle`."""
    slips: bool


@dataclass(frozen=True, slots=True)
class View:
    """What the picture shows: its middle (m) and how many dots a metre takes."""

    x: float
    y: float
    scale: float

    def follow(self, pose: Pose, reach: float, width: int, height: int) -> "View":
        """The same view, moved as little as keeps all of the robot (m from its middle) in sight."""
        across, up = max(width / self.scale - reach, 0.0), max(height * 2 / self.scale - reach, 0.0)
        return View(
            min(max(self.x, pose.x - across), pose.x + across),
            min(max(self.y, pose.y - up), pose.y + up),
            self.scale,
        )


def scale_for(tyres: Sequence[Tyre], width: int, height: int) -> float:
    """Dots per metre so that the robot takes six tenths of the picture, whichever way it stands."""
    return max(min(width * 2, height * 4), 1) * 0.3 / reach_of(tyres)


def reach_of(tyres: Sequence[Tyre]) -> float:
    """How far a robot reaches from its middle, m: with its nose, which is drawn ahead of the wheels."""
    if not tyres:
        return 0.3
    wide = max(tyre.y for tyre in tyres) - min(tyre.y for tyre in tyres)
    ahead = max(tyre.x + tyre.radius for tyre in tyres) + wide * 0.2
    return max(ahead, *(hypot(tyre.x, tyre.y) + tyre.radius for tyre in tyres), 0.05)


def floor_view(
    pose: Pose, tyres: Sequence[Tyre], trail: Sequence[Point], view: View, width: int, height: int
) -> list[Row]:
    """The whole picture."""
    canvas = Canvas(width, height, INKS)

    def at(x: float, y: float) -> Point:
        return (
            canvas.width + (x - view.x) * view.scale,
            canvas.height * 2 - (y - view.y) * view.scale,
        )

    def on_robot(x: float, y: float) -> Point:
        return at(*pose.world(x, y))

    _grid(canvas, view, at)
    canvas.path([at(x, y) for x, y in trail], _TRAIL)
    _hull(canvas, tyres, on_robot)
    for tyre in tyres:
        _wheel(canvas, tyre, on_robot, view.scale)
    return canvas.rows()


def grid_step(scale: float) -> float:
    """Metres between the dots of the floor: 1, or a round part or multiple that leaves air between them."""
    for step in (0.1, 0.25, 0.5, 1.0, 2.0, 5.0):
        if step * scale >= 11:
            return step
    return 10.0


def _grid(canvas: Canvas, view: View, at: Callable[[float, float], Point]) -> None:
    step = grid_step(view.scale)
    across, up = canvas.width / view.scale, canvas.height * 2 / view.scale
    for column in range(floor((view.x - across) / step), ceil((view.x + across) / step) + 1):
        for line in range(floor((view.y - up) / step), ceil((view.y + up) / step) + 1):
            x, y = at(column * step, line * step)
            canvas.dot(x, y, _DOT)
            if column % 4 == 0 and line % 4 == 0:
                for away in (-2, -1, 1, 2):
                    canvas.dot(x + away, y, _CROSS)
                    canvas.dot(x, y + away, _CROSS)


def _hull(canvas: Canvas, tyres: Sequence[Tyre], on_robot: Callable[[float, float], Point]) -> None:
    xs = [tyre.x for tyre in tyres] or [-0.15, 0.15]
    ys = [tyre.y for tyre in tyres] or [-0.12, 0.12]
    reach = max((tyre.radius for tyre in tyres), default=0.03)
    back, front, right, left = min(xs) - reach, max(xs) + reach, min(ys), max(ys)
    if left - right < 0.05:
        right, left = right - 0.1, left + 0.1
    inset = (left - right) * 0.16
    right, left = right + inset, left - inset
    nose = (left - right) * 0.28
    outline = [
        on_robot(back, left),
        on_robot(front, left),
        on_robot(front + nose, (left + right) / 2),
        on_robot(front, right),
        on_robot(back, right),
    ]
    canvas.path(outline, _HULL, closed=True)
    tip, half = front + nose * 0.55, nose * 0.45
    middle = (left + right) / 2
    canvas.fill(
        [
            on_robot(tip, middle),
            on_robot(front - nose * 0.5, middle + half),
            on_robot(front - nose * 0.5, middle - half),
        ],
        _NOSE,
    )


def _wheel(canvas: Canvas, tyre: Tyre, on_robot: Callable[[float, float], Point], scale: float) -> None:
    ahead, aside = (cos(tyre.angle), sin(tyre.angle)), (-sin(tyre.angle), cos(tyre.angle))
    half, thick = tyre.radius, max(tyre.radius * 0.34, 1.1 / scale)

    def from_hub(along: float, across: float) -> Point:
        return on_robot(
            tyre.x + along * ahead[0] + across * aside[0], tyre.y + along * ahead[1] + across * aside[1]
        )

    corners = [
        from_hub(half, thick),
        from_hub(half, -thick),
        from_hub(-half, -thick),
        from_hub(-half, thick),
    ]
    canvas.fill(corners, _SLIP if tyre.slips else _TYRE)
    if abs(tyre.push) < 0.02:
        return
    side = thick * 2.4 if tyre.y >= 0 else -thick * 2.4
    ink = _FORTH if tyre.push > 0 else _BACK
    reach = tyre.push * half * 2.2
    tip = from_hub(reach, side)
    canvas.stroke(from_hub(0, side), tip, ink)
    barb = 2.5 / scale * (1 if reach > 0 else -1)
    canvas.stroke(tip, from_hub(reach - barb, side + abs(barb)), ink)
    canvas.stroke(tip, from_hub(reach - barb, side - abs(barb)), ink)


def heading_degrees(heading: float) -> int:
    """A heading as whole degrees, 0 to 359, 0 = along x."""
    return round(heading * 180 / pi) % 360
