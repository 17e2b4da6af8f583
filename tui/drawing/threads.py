"""The mix as threads: one from each source to each output it feeds, coloured by what it carries now.

A thread is a smooth step from left to right, `y = y0 + (y1 - y0) s²(3 - 2s)`. What flows is shown by beads
that wander along it; a thread that carries nothing lies still.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tui.drawing.canvas import Canvas
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


def weave(threads: Sequence[Thread], width: int, height: int, phase: float = 0.0) -> list[Row]:
    """All threads; those that carry most, or are looked at, lie on top. `phase` moves what flows (dots)."""
    canvas = Canvas(width, height, INKS)
    for thread in sorted(threads, key=lambda item: (item.lit, abs(item.carried))):
        _draw(canvas, thread, phase)
    return canvas.rows()


def ink_of(thread: Thread) -> int:
    """Which ink a thread is drawn with."""
    if abs(thread.carried) < 0.01:
        return _TIED if thread.lit else _IDLE
    if thread.faded:
        return _IDLE
    return (_PLUS if thread.carried > 0 else _MINUS) + (2 if thread.lit else 0)


def _draw(canvas: Canvas, thread: Thread, phase: float) -> None:
    ink = ink_of(thread)
    flows = ink > _TIED
    thick = flows and (abs(thread.carried) > 0.45 or thread.lit)
    length = canvas.width * 2
    last = None
    own = (thread.start * 5 + thread.end * 3) % RIPPLE  # so that beads of neighbours do not march in step
    for x, y in _curve(thread.start * 4, thread.end * 4, length):
        bead = flows and (x - phase - own) % RIPPLE < _BEAD
        for between in _between(last, y):
            canvas.dot(x, between, ink)
            if thick or bead:
                canvas.dot(x, between + 1, ink)
            if bead:
                canvas.dot(x, between - 1, ink)
        last = y


def _curve(start: float, end: float, length: int) -> Iterable[tuple[int, int]]:
    for x in range(length):
        share = x / max(length - 1, 1)
        yield x, round(start + (end - start) * share * share * (3 - 2 * share) - 0.5)


def _between(last: int | None, now: int) -> Iterable[int]:
    """Where a steep thread has to be filled in from one column of dots to the next."""
    if last is None or abs(now - last) <= 1:
        return (now,)
    return range(last + 1, now + 1) if now > last else range(now, last)
