"""A stick's response: what the shape makes of every command, the straight line, the live point."""

from collections.abc import Callable, Sequence
from functools import lru_cache

from tui.drawing.canvas import Canvas, Dots, Point
from tui.drawing.rows import Row

INKS = ("text", "faint", "faint", "trail", "dim", "plus", "live!")
_GRID, _STRAIGHT, _OTHER, _REACH, _CURVE, _POINT = range(1, 7)
NAMED = 24
"""Columns from which on the curves of other shapes have their names beside them."""

Points = Sequence[tuple[float, float]]
"""(in, out), -1 to 1, rising."""


def response(
    points: Points,
    live: tuple[float, float] | None,
    width: int,
    height: int,
    others: Sequence[tuple[str, Points]] = (),
) -> list[Row]:
    """The curve in use with its live point; those of other shapes lie beneath, with their names."""
    canvas, kept = Canvas(width, height, INKS), tuple((name, tuple(line)) for name, line in others)
    for ink, dots in _still(tuple(points), kept, width, height):
        canvas.lay(dots, ink)
    at = _scale(canvas)
    if live is not None:
        x, y = live
        canvas.stroke(at(x, 0), at(x, y), _REACH, 2)
        canvas.stroke(at(0, y), at(x, y), _REACH, 2)
        canvas.disc(*at(x, y), 2.2, _POINT)
    canvas.label(0, 0, "out", "dim")
    canvas.label(canvas.width - 2, canvas.height // 2 - (canvas.height > 3), "in", "dim")
    if width >= NAMED:
        for name, line in kept:
            x, y = at(*line[-len(line) // 12])
            away = 1 if points and line[-1][1] < points[-1][1] else -1  # from the curve in use
            canvas.label(int(x) // 2 - len(name) - 1, max(int(y) // 4 + away, 0), name, "dim")
    return canvas.rows()


@lru_cache(maxsize=8)
def _still(
    points: Points, others: Sequence[tuple[str, Points]], width: int, height: int
) -> Sequence[tuple[int, Dots]]:
    """What stays while the stick moves: axes, the straight line, the curves; each with its ink."""
    grid, straight, beneath, curve = (Canvas(width, height, INKS) for _ in range(4))
    at = _scale(grid)
    grid.stroke(at(-1, 0), at(1, 0), _GRID, 3)
    grid.stroke(at(0, -1), at(0, 1), _GRID, 3)
    straight.stroke(at(-1, -1), at(1, 1), _STRAIGHT, 4)
    for _, line in others:
        beneath.path([at(x, y) for x, y in line], _OTHER)
    drawn = [at(x, y) for x, y in points]
    curve.path(drawn, _CURVE)
    curve.path([(x, y + 1) for x, y in drawn], _CURVE)
    return (_GRID, grid.dots), (_STRAIGHT, straight.dots), (_OTHER, beneath.dots), (_CURVE, curve.dots)


def _scale(canvas: Canvas) -> Callable[[float, float], Point]:
    across, down = canvas.width * 2 - 3, canvas.height * 4 - 3
    return lambda x, y: (1 + (x + 1) / 2 * across, 1 + (1 - y) / 2 * down)
