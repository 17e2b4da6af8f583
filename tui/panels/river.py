"""What the stages of the way share: the same row for the same output in every stage."""

from collections.abc import Sequence
from dataclasses import dataclass

from textual import events

from tui.bench.layout import ROOMIEST
from tui.bench.state import Bench
from tui.drawing.rows import Piece, Row, row_of
from tui.panels.base import Panel


@dataclass(frozen=True, slots=True)
class Spread:
    """Rows for a number of things, spread over a height."""

    lines: tuple[int, ...]
    """Row of each; -1 where it is scrolled out of sight."""
    pitch: int
    above: int
    """How many are out of sight above and below."""
    below: int


def spread(count: int, height: int, first: int = 0) -> Spread:
    """As roomy as it goes; where even one row each is too much, a window that begins at `first`."""
    if height <= 0:
        return Spread((-1,) * count, 1, 0, count)
    if count == 0:
        return Spread((), 1, 0, 0)
    if count <= height:
        pitch = min(height // count, ROOMIEST)
        top = max((height - pitch * count) // 2, 0)
        return Spread(tuple(top + pitch * number for number in range(count)), pitch, 0, 0)
    first = min(max(first, 0), count - height)
    lines = tuple(number - first if first <= number < first + height else -1 for number in range(count))
    return Spread(lines, 1, first, count - height - first)


class StagePanel(Panel):
    """One stage: its title is a piece of the rail that runs through all of them."""

    def outputs(self, height: int) -> Spread:
        """Where each output's row is."""
        return spread(len(self.bench.snapshot.outputs), height, self.bench.looking.first)

    def head(self, width: int) -> Row:
        """The rail with the stage's name on it."""
        jumping = self.bench.looking.jumping and self.letter
        name = f" {self.title} " if len(self.title) + 3 < width else self.title[: width - 1]
        style = "accent/plate!" if self.has_focus else "head/plate!"
        pieces: list[Piece] = [(0, "━━" if width > 12 else "━", "line/plate")]
        at = len(pieces[0][1])
        if jumping or self.has_focus:
            mark = f" {self.letter} " if jumping else " ▸"
            pieces.append((at, mark, "page/live!" if jumping else "accent/plate!"))
            at += len(mark)
        pieces.append((at, name, style))
        at += len(name)
        note = self.note()
        room = width - at - 2
        if note and len(note) + 2 <= room:
            pieces.append((at, "━" * (room - len(note) - 1) + f" {note} ", "dim/plate"))
            at = width - 2
        pieces.append((at, "━" * (width - at - 1) + self.end(), "line/plate"))
        return row_of(width, pieces, "line/plate")

    def end(self) -> str:
        """What the rail ends in."""
        return "━"

    def output_at(self, line: int, height: int) -> int:
        """Which output is drawn at a row (below the title); -1 where none is."""
        placed = self.outputs(height)
        for number, top in enumerate(placed.lines):
            if top >= 0 and top <= line < top + placed.pitch:
                return number
        return -1

    def on_click(self, event: events.Click) -> None:
        """A click on an output looks at it; on the one looked at, explains it."""
        number = self.output_at(event.y - 1, self.size.height - 1)
        if number < 0:
            return
        bench = self.bench
        if bench.looking.output == number and bench.looking.lit:
            self.host.open_drawer("" if bench.looking.drawer == "explain" else "explain")
        bench.look_at(number)
        bench.looking.lit = True
        self.host.paint_all()

    def on_mouse_scroll_down(self) -> None:
        """Further outputs."""
        self.bench.looking.first = min(
            self.bench.looking.first + 1, max(len(self.bench.snapshot.outputs) - 1, 0)
        )
        self.host.paint_all()

    def on_mouse_scroll_up(self) -> None:
        """Earlier outputs."""
        self.bench.looking.first = max(self.bench.looking.first - 1, 0)
        self.host.paint_all()


def name_style(bench: Bench, number: int) -> str:
    """The name of the output looked at stands out while its way is lit."""
    if not bench.looking.lit:
        return "text"
    return "head!" if number == bench.looking.output else "dim"


def names_width(names: Sequence[str], most: int) -> int:
    """Columns for names."""
    return min(max((len(name) for name in names), default=0), most)
