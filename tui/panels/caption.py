"""What a demonstration is showing now: a title, what is happening, and how far it has come."""

from collections.abc import Mapping
from typing import ClassVar

from mixer.live.bench.demonstration import Scene
from tui.drawing.rows import Piece, Row, fit, plain, row_of, wrapped
from tui.panels.base import Panel

INKS: Mapping[str, str] = {"note": "plus", "warn": "warn", "ok": "ok", "bad": "bad"}
GLYPHS: Mapping[str, str] = {"note": "▶", "warn": "▲", "ok": "■", "bad": "✕"}
ENDS = "a demonstration: any key ends it"
TALL = 4
"""Rows: title, two of words, the way through."""


class CaptionPanel(Panel, can_focus=False):
    """Shown below everything while the robot drives itself."""

    headed: ClassVar[bool] = False

    def draw(self, width: int, height: int) -> list[Row]:
        """Title, words, and a line that fills up."""
        shown = self.bench.demonstration
        if shown is None:
            return []
        scene = shown.scene()
        ink = INKS[scene.level]
        title = f" {GLYPHS[scene.level]} {scene.title.upper()} "
        head: list[Piece] = [(1, title, f"page/{ink}!")]
        if len(title) + len(ENDS) + 4 <= width:
            head.append((width - len(ENDS) - 2, ENDS, "dim/plate"))
        lines = wrapped(plain(scene.words), max(width - 4, 8))
        lines = [*lines, *[""] * height][: height - 2]
        return [
            row_of(width, head, "text/plate"),
            *(row_of(width, [(2, fit(line, width - 3), "head/plate!")], "text/plate") for line in lines),
            row_of(width, _way(scene, width), "text/plate"),
        ]


def _way(scene: Scene, width: int) -> list[Piece]:
    """How far it has come, with a mark where each part begins."""
    long = width - 4
    done = round(scene.share * long)
    ink = INKS[scene.level]
    marks = {round(mark * long) for mark in scene.marks}
    pieces: list[Piece] = []
    for place in range(long):
        glyph = "┃" if place in marks else "━" if place < done else "─"
        pieces.append((2 + place, glyph, f"{ink if place < done else 'line'}/plate"))
    return pieces
