"""A stick's response: what the shape makes of every command, the straight line, the live point."""

from collections.abc import Callable, Sequence
from functools import lru_cache

from tui.drawing.canvas import Canvas, Dots, Point
from tui.drawing.rows import Row

INKS = ("text", "faint", "faint", "dim", "plus", "live!")
_GRID, _STRAIGHT, _REACH, _CURVE, _POINT = 1, 2, 3, 4, 5


def response(
    points: Sequence[tuple[float, float]],
    live: tuple[float, float] | None,
    width: int,
    height: int,
) -> list[Row]:
    """`points` are (in, out) in -1 to 1, rising; so is `live`."""
    canvas = Canvas(width, height, INKS)
    for ink, dots in _still(tuple(points), width, height):
        canvas.lay(dots, ink)
    if live is not None:
        (x, y), at = live, _scale(canvas)
        canvas.stroke(at(x, 0), at(x, y), _REACH, 2)
        canvas.stroke(at(0, y), at(x, y), _REACH, 2)
        canvas.disc(*at(x, y), 2.2, _POINT)
    canvas.label(0, 0, "out", "dim")
    canvas.label(canvas.width - 2, canvas.height // 2 - (canvas.height > 3), "in", "dim")
    return canvas.rows()


@lru_cache(maxsize=8)
def _still(points: Sequence[tuple[float, float]], width: int, height: int) -> Sequence[tuple[int, Dots]]:
    """What stays while the stick moves: axes, the straight line, the curve; each with its ink."""
    grid, straight, curve = (Canvas(width, height, INKS) for _ in range(3))
    at = _scale(grid)
    grid.stroke(at(-1, 0), at(1, 0), _GRID, 3)
    grid.stroke(at(0, -1), at(0, 1), _GRID, 3)
    straight.stroke(at(-1, -1), at(1, 1), _STRAIGHT, 4)
    drawn = [at(x, y) for x, y in points]
    curve.path(drawn, _CURVE)
    curve.path([(x, y + 1) for x, y in drawn], _CURVE)
    return (_GRID, grid.dots), (_STRAIGHT, straight.dots), (_CURVE, curve.dots)


def _scale(canvas: Canvas) -> Callable[[float, float], Point]:
    across, down = canvas.width * 2 - 3, canvas.height * 4 - 3
    return lambda x, y: (1 + (x + 1) / 2 * across, 1 + (1 - y) / 2 * down)
