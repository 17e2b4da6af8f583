"""A drawing surface of braille dots, two by four a cell, with one ink a cell: the topmost wins.

Inks are small numbers; the higher one stays when two meet in a cell. Dots are square on a terminal whose
cells are twice as high as wide, which is what all of them are near to.

What is drawn over and over can be kept as dots, one long integer with a byte for each cell: `lay` puts
thousands of them down at once.
"""

from collections.abc import Iterable, Sequence
from functools import cache
from itertools import groupby, pairwise
from math import ceil

from tui.drawing.rows import GROUND, Row, Run

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BRAILLE = {number: chr(0x2800 + number) for number in range(1, 256)} | {0: " "}

Point = tuple[float, float]
Dots = int
"""Dots of a whole canvas: the byte of cell n, row after row, stands at 256 to the power of n."""


class Canvas:
    """`width` by `height` cells; points are in dots, x right and y down."""

    def __init__(self, width: int, height: int, inks: Sequence[str]) -> None:
        self.width = max(width, 0)
        self.height = max(height, 0)
        self.inks = tuple(inks)
        """Style name of each ink number; 0 is never drawn."""
        self._bits = bytearray(self.width * self.height)
        self._ink = bytearray(self.width * self.height)
        self._labels: list[tuple[int, int, str, str]] = []

    @property
    def dots(self) -> Dots:
        """All dots so far, to be kept and laid on canvases of this size."""
        return int.from_bytes(self._bits, "little")

    def lay(self, dots: Dots, ink: int) -> None:
        """Dots kept from a canvas of this size, in one ink."""
        size = len(self._bits)
        cells, higher = (
            dots.to_bytes(size, "little").translate(_any_dot()),
            self._ink.translate(_above(ink)),
        )
        taken = int.from_bytes(cells, "little") & ~int.from_bytes(higher, "little")
        inks = int.from_bytes(self._ink, "little") & ~taken | taken & int.from_bytes(bytes([ink]) * size)
        self._ink[:] = inks.to_bytes(size, "little")
        self._bits[:] = (self.dots | dots).to_bytes(size, "little")

    def dot(self, x: float, y: float, ink: int) -> None:
        """One dot; outside is ignored."""
        column, line = int(x), int(y)
        if x < 0 or y < 0 or column >= self.width * 2 or line >= self.height * 4:
            return
        at = (line >> 2) * self.width + (column >> 1)
        self._bits[at] |= _DOTS[line & 3][column & 1]
        self._ink[at] = max(self._ink[at], ink)

    def stroke(self, start: Point, end: Point, ink: int, gap: int = 1) -> None:
        """A straight line; with `gap` only every so-manieth dot."""
        (x, y), (to_x, to_y) = start, end
        steps = ceil(max(abs(to_x - x), abs(to_y - y)))
        if steps > 4 * (self.width + self.height) * 4:
            return
        across, down = ((to_x - x) / steps, (to_y - y) / steps) if steps else (0.0, 0.0)
        bits, inks, wide, right, low = self._bits, self._ink, self.width, self.width * 2, self.height * 4
        for step in range(0, steps + 1, gap):
            here_x, here_y = x + across * step, y + down * step
            if 0 <= here_x < right and 0 <= here_y < low:  # as `dot`, but without a call for each of them
                column, line = int(here_x), int(here_y)
                at = (line >> 2) * wide + (column >> 1)
                bits[at] |= _DOTS[line & 3][column & 1]
                inks[at] = max(inks[at], ink)

    def path(self, points: Sequence[Point], ink: int, *, closed: bool = False) -> None:
        """Lines from point to point."""
        for start, end in pairwise(points):
            self.stroke(start, end, ink)
        if closed and len(points) > 2:
            self.stroke(points[-1], points[0], ink)

    def fill(self, points: Sequence[Point], ink: int) -> None:
        """A filled convex or simple polygon, by scan lines through the middles of the dots."""
        rows = range(
            max(int(min(y for _, y in points)), 0), min(int(max(y for _, y in points)) + 1, self.height * 4)
        )
        for line in rows:
            middle = line + 0.5
            cuts = sorted(
                x + (middle - y) * (to_x - x) / (to_y - y)
                for (x, y), (to_x, to_y) in zip(points, [*points[1:], points[0]], strict=True)
                if (y <= middle) != (to_y <= middle)
            )
            for left, right in zip(cuts[::2], cuts[1::2], strict=False):
                for column in range(max(int(left + 0.5), 0), min(int(right + 0.5), self.width * 2 - 1) + 1):
                    self.dot(column, line, ink)

    def disc(self, x: float, y: float, radius: float, ink: int) -> None:
        """A filled circle."""
        reach = int(radius) + 1
        for down in range(-reach, reach + 1):
            for across in range(-reach, reach + 1):
                if across * across + down * down <= radius * radius:
                    self.dot(x + across, y + down, ink)

    def label(self, column: int, line: int, text: str, style: str) -> None:
        """Text over everything, in cells; cut at the edges."""
        if 0 <= line < self.height and column < self.width:
            text = text[max(-column, 0) : self.width - column]
            if text:
                self._labels.append((line, max(column, 0), text, style))

    def rows(self) -> list[Row]:
        """What has been drawn."""
        drawn = [self._row(line) for line in range(self.height)]
        for line, column, text, style in self._labels:
            drawn[line] = _over(drawn[line], column, text, style)
        return drawn

    def _row(self, line: int) -> Row:
        start = line * self.width
        bits = self._bits[start : start + self.width]
        if not any(bits):
            return ((" " * self.width, GROUND),) if self.width else ()
        glyphs = bits.decode("latin-1").translate(_BRAILLE)
        runs: list[Run] = []
        at = 0
        for ink, cells in groupby(self._ink[start : start + self.width]):
            length = len(list(cells))
            runs.append((glyphs[at : at + length], self.inks[ink] if ink else GROUND))
            at += length
        return tuple(runs)


@cache
def _any_dot() -> bytes:
    """Translates a cell's dots to 255 where there are any."""
    return bytes([0, *[255] * 255])


@cache
def _above(ink: int) -> bytes:
    """Translates inks to 255 where they lie above one."""
    return bytes(255 * (other > ink) for other in range(256))


def _over(row: Row, column: int, text: str, style: str) -> Row:
    """A row with text laid over it."""
    before, after = _cut(row, 0, column), _cut(row, column + len(text), None)
    return (*before, (text, style), *after)


def _cut(row: Iterable[Run], start: int, end: int | None) -> list[Run]:
    runs: list[Run] = []
    at = 0
    for text, style in row:
        low = max(start - at, 0)
        high = len(text) if end is None else max(end - at, 0)
        if text[low:high]:
            runs.append((text[low:high], style))
        at += len(text)
    return runs
