"""A stick pad seen from above: the knob, the way back to neutral, and how far it can go."""

from functools import lru_cache
from math import cos, pi, sin

from tui.drawing.canvas import Canvas, Dots
from tui.drawing.rows import Row

INKS = ("text", "faint", "line", "plus", "live!")
_GRID, _EDGE, _WAY, _KNOB = 1, 2, 3, 4
_RIM = 2
"""Dots between the knob's middle at full stick and the pad's edge."""


def stick_pad(x: float, y: float, width: int, height: int) -> list[Row]:
    """`x` to the right and `y` up, each -1 to 1."""
    canvas = Canvas(width, height, INKS)
    across, down = (canvas.width * 2 - 1) / 2, (canvas.height * 4 - 1) / 2
    grid, corners = _ground(width, height)
    canvas.lay(grid, _GRID)
    canvas.lay(corners, _EDGE)
    knob = across + x * (across - _RIM), down - y * (down - _RIM)
    canvas.stroke((across, down), knob, _WAY)
    canvas.disc(*knob, 2.3, _KNOB)
    return canvas.rows()


@lru_cache(maxsize=8)
def _ground(width: int, height: int) -> tuple[Dots, Dots]:
    """Grid and corners of a pad's size."""
    grid, corners = Canvas(width, height, INKS), Canvas(width, height, INKS)
    across, down = (grid.width * 2 - 1) / 2, (grid.height * 4 - 1) / 2
    grid.stroke((across, 2), (across, 2 * down - 2), _GRID, 4)
    grid.stroke((2, down), (2 * across - 2, down), _GRID, 4)
    for part in range(24):
        turn = part * pi / 12
        grid.dot(across + cos(turn) * across * 0.5, down + sin(turn) * down * 0.5, _GRID)
    _corners(corners)
    return grid.dots, corners.dots


def pad_value(column: float, line: float, width: int, height: int) -> tuple[float, float]:
    """Which (x, y) a place in a pad's cells means, as `stick_pad` draws it; limited to the pad."""
    across, down = (width * 2 - 1) / 2, (height * 4 - 1) / 2
    x = (column * 2 - 0.5 - across) / max(across - _RIM, 1.0)
    y = (down - line * 4 + 0.5) / max(down - _RIM, 1.0)
    return min(max(x, -1.0), 1.0), min(max(y, -1.0), 1.0)


def _corners(canvas: Canvas) -> None:
    """Brackets at the corners, so that the pad has an edge without a box."""
    right, low = canvas.width * 2 - 1, canvas.height * 4 - 1
    for x, way in ((0, 1), (right, -1)):
        for y, fall in ((0, 1), (low, -1)):
            canvas.stroke((x, y), (x + 5 * way, y), _EDGE)
            canvas.stroke((x, y), (x, y + 5 * fall), _EDGE)
