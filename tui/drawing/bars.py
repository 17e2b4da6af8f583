"""Bars in eighths of a cell, to both sides of a zero or from one end.

Only U+2588 to U+258F are used: a bar that ends at its left is the same glyph with ink and ground swapped.
"""

from collections.abc import Sequence
from itertools import pairwise

from tui.drawing.rows import Run

EIGHTHS = " ▏▎▍▌▋▊▉█"


def eighths(width: int, edges: Sequence[tuple[int, str]], last: str) -> list[Run]:
    """Cells filled by colours that change at edges: `edges` holds (where in eighths, colour up to there).

    Of two edges within one cell only the first shows.
    """
    runs: list[Run] = []
    cell = 0
    for place, (edge, colour) in enumerate(edges):
        after = edges[place + 1][1] if place + 1 < len(edges) else last
        whole, part = divmod(min(max(edge, 0), width * 8), 8)
        if whole > cell:
            runs.append(solid(colour, whole - cell))
            cell = whole
        if part and cell == whole:
            runs.append((EIGHTHS[part], f"{colour}/{after}"))
            cell += 1
    if cell < width:
        runs.append(solid(last, width - cell))
    return runs


def solid(colour: str, cells: int) -> Run:
    """Cells all of one colour; grounds are blanks, so that bars show without colours too."""
    if colour in ("track", "ghost", "card"):
        return " " * cells, f"text/{colour}"
    return "█" * cells, f"{colour}/track"


def swing(value: float, width: int, *, towards: float | None = None) -> list[Run]:
    """A bar from the middle, `value` -1 to 1; the way on `towards` another value shows as a ghost.

    The middle is the edge of a cell, since no glyph fills a cell's middle only: of an odd width the last
    cell stays empty.
    """
    if width <= 0:
        return []
    middle = width // 2 * 8
    here = middle + round(min(max(value, -1.0), 1.0) * middle)
    there = here if towards is None else middle + round(min(max(towards, -1.0), 1.0) * middle)
    marks = sorted({0, middle, here, there, width * 8})
    edges: list[tuple[int, str]] = []
    for low, high in pairwise(marks):
        inside = (low + high) / 2
        if min(middle, here) < inside < max(middle, here):
            colour = "plus" if here > middle else "minus"
        elif min(middle, here, there) < inside < max(middle, here, there):
            colour = "ghost"
        else:
            colour = "track"
        if edges and edges[-1][1] == colour:
            edges.pop()
        edges.append((high, colour))
    runs = eighths(width, edges[:-1], edges[-1][1])
    return runs if here != middle else _with_zero(runs, width // 2)


def level(share: float, width: int, ink: str = "plus") -> list[Run]:
    """A bar from the left, `share` 0 to 1."""
    return eighths(width, [(round(min(max(share, 0.0), 1.0) * width * 8), ink)], "track")


def span(low: float, high: float, width: int, ink: str = "plus") -> list[Run]:
    """A bar from one share of the width to another, 0 to 1 each."""
    start, end = (round(min(max(share, 0.0), 1.0) * width * 8) for share in sorted((low, high)))
    return eighths(width, [(start, "track"), (end, ink)], "track")


def _with_zero(runs: list[Run], column: int) -> list[Run]:
    """The mark of the zero, where no bar shows it."""
    done: list[Run] = []
    at = 0
    for text, style in runs:
        if at <= column < at + len(text):
            ground = style.partition("/")[2]
            cut = column - at
            pieces = ((text[:cut], style), ("▏", f"faint/{ground}"), (text[cut + 1 :], style))
            done += [piece for piece in pieces if piece[0]]
        else:
            done.append((text, style))
        at += len(text)
    return done
