"""A course from above, whole: the ideal way, posts, gate and box, the last runs faint, the robot in it.

World axes: x right, y up, in m.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from mixer.course.tasks.shapes import Footprint, Pose
from mixer.course.tasks.task import Ends, Task
from tui.drawing.canvas import Canvas, Point
from tui.drawing.rows import Row

INKS = ("text", "faint", "dim", "line", "trail", "plus", "warn", "hull", "live!")
_OLD, _BOX, _WAY, _TRACE, _GATE, _POST, _HULL, _NOSE = range(1, 9)
MARGIN = 1.3
"""Of the robot's reach, round everything."""


class Seen(NamedTuple):
    """What is drawn of a course."""

    task: Task
    foot: Footprint
    pose: Pose
    trace: Sequence[Point]
    """Of the run under way, or of the last one."""
    before: Sequence[Sequence[Point]]
    """Of the runs before it."""


class Frame(NamedTuple):
    """Which part of the floor is shown: its middle in m and dots a metre."""

    x: float
    y: float
    scale: float


def frame_of(seen: Seen, width: int, height: int) -> Frame:
    """Everything of the task, the robot in it, as large as there is room."""
    reach = MARGIN * seen.foot.reach
    points = [*seen.task.way, *((post.x, post.y) for post in seen.task.posts), (seen.pose.x, seen.pose.y)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    across, up = max(xs) - min(xs) + 2 * reach, max(ys) - min(ys) + 2 * reach
    scale = max(min(2 * width / across, 4 * height / up), 1.0)
    return Frame((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2, scale)


def course_view(seen: Seen, width: int, height: int) -> list[Row]:
    """The whole picture."""
    canvas, frame = Canvas(width, height, INKS), frame_of(seen, width, height)
    task = seen.task

    def at(x: float, y: float) -> Point:
        return width + (x - frame.x) * frame.scale, height * 2 - (y - frame.y) * frame.scale

    for trace in seen.before:
        canvas.path([at(*point) for point in trace[::2]], _OLD)
    if task.box is not None:
        x, y, half = task.box
        corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
        canvas.path([at(*corner) for corner in corners], _BOX, closed=True)
    for one, other in zip(task.way[::2], task.way[1::2], strict=False):
        canvas.stroke(at(*one), at(*other), _WAY)
    canvas.path([at(*point) for point in seen.trace], _TRACE)
    if task.gate:
        one, other = ((post.x, post.y) for post in task.gate)
        canvas.stroke(at(*one), at(*other), _GATE, gap=3)
    for post in task.posts:
        canvas.disc(*at(post.x, post.y), max(post.radius * frame.scale, 1.0), _POST)
    _robot(canvas, seen, at)
    return canvas.rows()


def _robot(canvas: Canvas, seen: Seen, at: Callable[[float, float], Point]) -> None:
    """Its outline with a bright nose; before a half turn also where the nose is to point."""
    pose, foot = seen.pose, seen.foot

    left, right = [(end, foot.left) for end in foot[:2]], [(end, foot.right) for end in foot[1::-1]]
    canvas.path([at(*pose.world(*corner)) for corner in (*left, *right)], _HULL, closed=True)
    half = (foot.front - foot.back) / 4
    tip, wing = foot.front + half, (foot.left - foot.right) / 3
    nose = [(tip, 0.0), (foot.front - half, wing), (foot.front - half, -wing)]
    canvas.fill([at(*pose.world(*corner)) for corner in nose], _NOSE)
    if seen.task.ends is Ends.TURNED:
        canvas.stroke(at(-foot.reach, 0.0), at(-MARGIN * foot.reach, 0.0), _WAY)
