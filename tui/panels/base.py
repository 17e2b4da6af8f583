"""A panel: rows drawn by pure functions, kept as strips, only changed rows sent to the terminal.

`render_lines` is answered from the kept strips, past the toolkit's own style cache: that is what makes
thirty pictures a second cheap. `Row` stands in for the toolkit's strip, whose cache of its own divisions
would make every drawn row a reference cycle.
"""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar, cast

from rich.segment import Segment
from textual import events
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.drawing.rows import Row as DrawnRow
from tui.drawing.rows import fit, plain, row_of, sized
from tui.styles.palette import Palette

if TYPE_CHECKING:
    from tui.bench.commands import Command
    from tui.bench.host import Host
    from tui.bench.state import Bench


MOST_SKIPPED = 30


class Row(Strip):
    """A strip that is its own only division when nothing is cut off."""

    __slots__ = ()

    def divide(self, cuts: Iterable[int]) -> Sequence[Strip]:
        """Divide; the whole strip is handed out without being remembered by itself."""
        wanted = list(cuts)
        return [self] if wanted == [self.cell_length] else super().divide(wanted)


class Panel(Widget, can_focus=True):
    """One part of the picture. Subclasses say their title, help and keys, and draw."""

    title: ClassVar[str] = ""
    letter: ClassVar[str] = ""
    """The key that jumps here after `g`."""
    help: ClassVar[str] = ""
    """What F1 says."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Every sign it draws, and what it means; help shows them where the panel is in sight."""
    commands: ClassVar[tuple["Command", ...]] = ()
    """Keys that work while the panel has the focus."""
    headed: ClassVar[bool] = True
    every: ClassVar[int] = 1
    """Looked at in every so-manieth picture."""

    def __init__(self, bench: "Bench", palette: Palette) -> None:
        super().__init__(id=type(self).__name__.removesuffix("Panel").lower())
        self.bench = bench
        self._palette = palette
        self._drawn: list[DrawnRow] = []
        self._strips: list[Row] = []
        self._seen: object = None
        self._skipped = 0

    @property
    def host(self) -> "Host":
        """The bench's screen."""
        return cast("Host", self.screen)

    def draw(self, width: int, height: int) -> Sequence[DrawnRow]:
        """The rows below the title."""
        raise NotImplementedError

    def seen(self) -> object:
        """What of the snapshot is shown: while it stays equal nothing is drawn. None is all of it."""
        return None

    def note(self) -> str:
        """Few words at the right of the title."""
        return ""

    def head(self, width: int) -> DrawnRow:
        """The title row."""
        jumping = self.bench.looking.jumping and self.letter
        mark = f" {self.letter} " if jumping else "▸ " if self.has_focus else "  "
        style = "accent/plate!" if self.has_focus else "head/plate!"
        name, note = fit(self.title, width - 3), self.note()
        pieces = [(0, mark, "page/live!" if jumping else "accent/plate!"), (len(mark), name, style)]
        space = width - len(mark) - len(name) - 3
        if note and space > 3:
            note = fit(note, space)
            pieces.append((width - len(note) - 1, note, "dim/plate"))
        return row_of(width, pieces, "text/plate")

    def use_palette(self, palette: Palette) -> None:
        """Other colours from now on."""
        self._palette = palette
        self._drawn, self._strips = [], []
        self.paint()
        self.refresh()

    def keep_up(self) -> None:
        """Paint if what is seen has changed, and now and then all the same."""
        seen = self.seen()
        self._skipped += 1
        if seen is None or seen != self._seen or self._skipped > MOST_SKIPPED:
            self.paint()
            self._seen, self._skipped = seen, 0

    def paint(self) -> None:
        """Draw, keep, and ask for those rows that changed."""
        self._seen = None
        width, height = self.size
        if not width or not height:
            return
        rows = self._rows(width, height)
        if len(rows) != len(self._drawn) or not self._strips or self._strips[0].cell_length != width:
            self._strips = [self._strip(row, width) for row in rows]
            self._drawn = rows
            self.refresh()
            return
        changed = [line for line, row in enumerate(rows) if row != self._drawn[line]]
        for line in changed:
            self._strips[line] = self._strip(rows[line], width)
        self._drawn = rows
        if changed:
            self.refresh(*(Region(0, top, width, high) for top, high in spans(changed)))

    def render_lines(self, crop: Region) -> list[Strip]:
        """What the compositor asks for."""
        if len(self._strips) < crop.bottom or (self._strips and self._strips[0].cell_length < crop.right):
            self.paint_now()
        lines: list[Strip] = list(self._strips[crop.y : crop.bottom])
        if crop.x or (lines and crop.width != lines[0].cell_length):
            lines = [line.crop(crop.x, crop.right) for line in lines]
        lines += [Strip.blank(crop.width)] * (crop.height - len(lines))
        if self.app.no_color:
            for line_filter in self.get_line_filters():
                lines = [line.apply_filter(line_filter, self.background_colors[1]) for line in lines]
        return lines

    def paint_now(self) -> None:
        """Draw everything for the present size, without asking for anything."""
        width, height = self.size
        self._drawn = self._rows(width, height)
        self._strips = [self._strip(row, width) for row in self._drawn]

    def on_resize(self, _event: events.Resize) -> None:
        """Everything anew."""
        self.paint()

    def on_focus(self) -> None:
        """The title shows it."""
        self.bench.focus = self.id or ""
        self.paint()

    def on_blur(self) -> None:
        """The title shows it."""
        self.paint()

    def _rows(self, width: int, height: int) -> list[DrawnRow]:
        if not self.headed:
            return sized(self.draw(width, height), width, height)
        return [self.head(width), *sized(self.draw(width, height - 1), width, height - 1)]

    def _strip(self, row: DrawnRow, width: int) -> Row:
        style = self._palette.style
        if not all(text.isprintable() for text, _ in row):
            # Whatever a panel draws, no control character reaches the terminal.
            row = tuple((plain(text), name) for text, name in row)
        return Row([Segment(text, style(name)) for text, name in row], width)


def spans(lines: Sequence[int]) -> list[tuple[int, int]]:
    """Neighbouring line numbers put together: (first, how many)."""
    found: list[tuple[int, int]] = []
    for line in lines:
        if found and found[-1][0] + found[-1][1] == line:
            found[-1] = found[-1][0], found[-1][1] + 1
        else:
            found.append((line, 1))
    return found
