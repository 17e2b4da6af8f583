"""The mix as threads: one from each source to each output it feeds, coloured by what it carries now.

A thread is a smooth step from left to right, `y = y0 + (y1 - y0) s²(3 - 2s)`. What flows is shown by beads
that wander along it; a thread that carries nothing lies still.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from tui.drawing.canvas import Canvas, Dots
from tui.drawing.rows import Row

INKS = ("text", "faint", "dim", "minus", "plus", "minus!", "plus!")
_IDLE, _TIED, _MINUS, _PLUS = 1, 2, 3, 4
RIPPLE = 16
"""Dots from one bead on a flowing thread to the next."""
_BEAD = 3


@dataclass(frozen=True, slots=True)
class Thread:
    """One weight of the mix."""

    start: float
    """Where it begins and ends, in rows from the top (the middle of a row is .5)."""
    end: float
    carried: float
    """What it adds to its output now, as a share of full."""
    lit: bool = False
    """Whether it leads to the output looked at."""
    faded: bool = False
    """Whether another output is looked at."""


def weave(threads: Sequence[Thread], width: int, height: int, phase: float = 0.0) -> Sequence[Row]:
    """All threads; those that carry most, or are looked at, lie on top. `phase` moves what flows (dots)."""
    strands: dict[int, int] = {}
    for thread in threads:
        ink = ink_of(thread)
        thin, thick, beads = _strand(thread.start, thread.end, width, height)
        dots = thin
        if ink > _TIED:
            own = (thread.start * 5 + thread.end * 3) % RIPPLE  # beads of neighbours do not march in step
            dots = thick if abs(thread.carried) > 0.45 or thread.lit else thin
            dots |= beads & _ripple(width, height, round(phase + own) % RIPPLE)
        strands[ink] = strands.get(ink, 0) | dots
    return _laid(tuple(sorted(strands.items())), width, height)


@lru_cache(maxsize=2)  # where nothing flows, the picture before still holds
def _laid(strands: Sequence[tuple[int, Dots]], width: int, height: int) -> Sequence[Row]:
    canvas = Canvas(width, height, INKS)
    for ink, dots in strands:
        canvas.lay(dots, ink)
    return tuple(canvas.rows())


@lru_cache(maxsize=1024)
def _strand(start: float, end: float, width: int, height: int) -> tuple[Dots, Dots, Dots]:
    """A thread's dots: thin, thick, and as thick as a bead everywhere."""
    thin, thick, beads = (Canvas(width, height, INKS) for _ in range(3))
    last = None
    for x, y in _curve(start * 4, end * 4, width * 2):
        for between in _between(last, y):
            for canvas, rows in ((thin, (0,)), (thick, (0, 1)), (beads, (-1, 0, 1))):
                for row in rows:
                    canvas.dot(x, between + row, 1)
        last = y
    return thin.dots, thick.dots, beads.dots


@lru_cache(maxsize=2 * RIPPLE)
def _ripple(width: int, height: int, phase: int) -> Dots:
    """All dots of those columns in which a bead is now."""
    canvas = Canvas(width, height, INKS)
    for x in range(width * 2):
        if (x - phase) % RIPPLE < _BEAD:
            canvas.stroke((x, 0), (x, height * 4 - 1), 1)
    return canvas.dots


def ink_of(thread: Thread) -> int:
    """Which ink a thread is drawn with."""
    if abs(thread.carried) < 0.01:
        return _TIED if thread.lit else _IDLE
    if thread.faded:
        return _IDLE
    return (_PLUS if thread.carried > 0 else _MINUS) + (2 if thread.lit else 0)


def _curve(start: float, end: float, length: int) -> Iterable[tuple[int, int]]:
    for x in range(length):
        share = x / max(length - 1, 1)
        yield x, round(start + (end - start) * share * share * (3 - 2 * share) - 0.5)


def _between(last: int | None, now: int) -> Iterable[int]:
    """Where a steep thread has to be filled in from one column of dots to the next."""
    if last is None or abs(now - last) <= 1:
        return (now,)
    return range(last + 1, now + 1) if now > last else range(now, last)
