"""The board at the other end of the link: which it is, what it runs, whether its mix is the core's."""

from collections.abc import Iterator
from typing import ClassVar

from mixer.live.views.status import BoardView, LinkView
from tui.bench.commands import Command
from tui.drawing.rows import Row, fit, plain, row_of, wrapped
from tui.panels.base import Panel
from tui.panels.masthead import LINKS

WIRES = {"this": ("✓", "ok"), "none": ("·", "text")}
"""How the wiring of a board is shown; any other is a warning."""
OBEYS = "Nothing here moves its motors: it obeys its own receiver alone."


class BoardPanel(Panel):
    """Link, board, tuning, parity."""

    title: ClassVar[str] = "board"
    letter: ClassVar[str] = "a"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
A board that runs an exported mix sends, each tick, what it read and what its mix made of that: the guard
and every wire. The same tick is run here, by the tuning whose fingerprint the board has told, and the two
are compared, number by number. 100.00 % is what a board has to show before it drives.

An edit here does not reach the board: it then runs the older tuning, and what has changed since is listed.
Comparing begins at the board's start; after that, or after a lost frame, once what it reads leaves only one
state it can be in. esc closes."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("escape",), "close", "close", "close", lambda panel: panel.host.open_drawer("")),
    )
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("● ◐ ○ ✕", "the link: connected, waiting or quiet, lost, unreadable"),
        ("✓", "tuning and wiring are those in use here; every tick so far is the core's"),
        ("▲", "another tuning or wiring runs there, or what it runs is not known"),
        ("✕", "it differs: when first, which number, both values"),
        ("·", "which board it is, its counts, what to do"),
        ("◐ comparing", "when ticks can be compared"),
    )

    def note(self) -> str:
        """Which port."""
        return self.bench.snapshot.link.port

    def seen(self) -> object:
        """All of the link."""
        return self.bench.snapshot.link

    def draw(self, width: int, height: int) -> list[Row]:
        """Line by line, as far as there is room; the robot's own words wrapped."""
        link = self.bench.snapshot.link
        rows: list[Row] = []
        for glyph, words, style in told(link):
            first, *more = wrapped(plain(words), max(width - 5, 8)) or [""]
            rows.append(row_of(width, [(1, glyph, f"{style}!"), (3, fit(first, width - 4), style)]))
            rows += [row_of(width, [(3, fit(line, width - 4), style)]) for line in more]
        return rows[:height]


def told(link: LinkView) -> Iterator[tuple[str, str, str]]:
    """Glyph, words and style of each line: the link, the board, its tuning, the comparison."""
    if link.state == "none":
        yield "·", "no board is connected: start with --port PORT", "dim"
        return
    well = link.state in ("connected", "waiting", "chip")
    yield LINKS.get(link.state, "·"), link.words, "text" if well else "bad"
    counts = f"{link.frames:,} frames, {link.dropped:,} lost, {link.bad:,} damaged"
    yield "·", counts + (f"; unplugged: {link.unplugged}" if link.unplugged else ""), "dim"
    board = link.board
    if board.name:
        yield "·", board.name + (f": {board.started}" if board.started else ""), "text"
    elif well:
        yield "·", "the board has not said yet which it is", "dim"
    yield from _tuning(board)
    yield from _parity(board)
    yield "·", OBEYS, "dim"


def _tuning(board: BoardView) -> Iterator[tuple[str, str, str]]:
    if board.runs == "this":
        yield "✓", board.told, "ok"
    elif board.runs:
        yield "▲", board.told, "warn"
    elif board.name:
        yield "·", "it runs no mix, or does not say which", "dim"
    if board.wires:
        glyph, style = WIRES.get(board.wires, ("▲", "warn"))
        yield glyph, board.wires_told, style
    if board.remedy:
        yield "·", board.remedy, "text"


def _parity(board: BoardView) -> Iterator[tuple[str, str, str]]:
    if board.differing:
        ticks = "tick" if board.differing == 1 else "ticks"
        yield "✕", f"it DIFFERS in {board.differing:,} {ticks}: {board.agreeing} agree", "bad"
        yield "✕", f"first: {board.first}", "bad"
    elif board.compared:
        yield "✓", f"guard and wires agree with the core: {board.agreeing}", "ok"
    if board.passed_over:
        yield "·", f"{board.passed_over:,} ticks could not be compared", "dim"
    if board.waits:
        yield "◐", board.waits, "warn"
