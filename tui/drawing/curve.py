"""A stick's response: what the shape makes of every command, the straight line, the live point."""

from collections.abc import Sequence

from tui.drawing.canvas import Canvas
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
    across, down = canvas.width * 2 - 3, canvas.height * 4 - 3

    def at(x: float, y: float) -> tuple[float, float]:
        return 1 + (x + 1) / 2 * across, 1 + (1 - y) / 2 * down

    canvas.stroke(at(-1, 0), at(1, 0), _GRID, 3)
    canvas.stroke(at(0, -1), at(0, 1), _GRID, 3)
    canvas.stroke(at(-1, -1), at(1, 1), _STRAIGHT, 4)
    drawn = [at(x, y) for x, y in points]
    canvas.path(drawn, _CURVE)
    canvas.path([(x, y + 1) for x, y in drawn], _CURVE)
    if live is not None:
        x, y = live
        canvas.stroke(at(x, 0), at(x, y), _REACH, 2)
        canvas.stroke(at(0, y), at(x, y), _REACH, 2)
        canvas.disc(*at(x, y), 2.2, _POINT)
    canvas.label(0, 0, "out", "dim")
    canvas.label(canvas.width - 2, canvas.height // 2 - (canvas.height > 3), "in", "dim")
    return canvas.rows()
