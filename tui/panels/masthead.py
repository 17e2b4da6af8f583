"""The top row: which robot, in which state, from which source, and what is wrong."""

from typing import ClassVar

from mixer.live.views.snapshot import Snapshot
from mixer.live.views.status import LinkView, TuningView
from tui.bench.state import SOURCES
from tui.drawing.gate import FACES
from tui.drawing.rows import Piece, Row, fit, plain, row_of
from tui.panels.base import Panel

LINKS = {"waiting": "◐", "connected": "●", "quiet": "◐", "lost": "○", "unreadable": "✕", "chip": "▣"}
MIXES = {"other": "▲ other mix", "older": "▲ older mix", "unknown": "▲ unknown mix"}
"""What is said of a board that runs another mix than the tuning in use."""
WIRES = {"other": "▲ other wires", "untold": "▲ wires untold"}
"""What is said of a board that runs this mix and is not known to be built for its wires."""


class MastheadPanel(Panel, can_focus=False):
    """One row that is always there; who has the sticks is among the last things to go."""

    headed: ClassVar[bool] = False
    every: ClassVar[int] = 3
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("○ ◐ ● ■ ✕", "the guard: searching, resting, live, stopped, faulted"),
        ("⇅", "it lies upside down"),
        ("sticks: ...", "who moves the sticks: hands, a log, the link, a controller"),
        ("● ◐ ○ ✕ link", "the link: connected, waiting or quiet, lost, unreadable"),
        ("▣ image", "the robot's compiled firmware runs on a simulated chip, in step with the clock"),
        ("board 100.00 %", "the mix on the board against the core, over so many ticks: V tells more"),
        ("▲ older mix", "another tuning than the one in use runs on the board"),
        (
            "▲ other wires",
            "the board is built for other wires than those in use, or does not say for which",
        ),
        ("✕ board", "the mix on the board differs from the core"),
        ("receiver test", "it runs: G shows it"),
        ("tuning A", "which of the two tunings drives"),
        ("✎ 3 unsaved", "so many values differ from the profile's file"),
        ("▲ file", "the file has changed on the disk, or is gone"),
        ("▲ 1 fault", "so many things are broken on purpose"),
        ("✕ rule", "a rule that must hold for every robot is broken, or was"),
        ("‖  ×2", "paused; a log at another speed"),
        ("◉", "recording"),
        ("⧉", "other windows have this profile open"),
    )

    def draw(self, width: int, _height: int) -> list[Row]:
        """Robot and state at the left, alarms and clock at the right."""
        view = self.bench.snapshot
        left = self._left(view, width)
        parts = self._right(view, width)
        taken = sum(len(text) for text, _ in left) + 1
        while parts and taken + sum(len(text) for _, text, _ in parts) > width:
            parts.remove(min(parts, key=lambda part: part[0]))
        right = [(text, style) for _, text, style in parts]
        at = width - sum(len(text) for text, _ in right)
        pieces: list[Piece] = []
        for start, runs in ((0, left), (at, right)):
            place = start
            for text, style in runs:
                pieces.append((place, text, style))
                place += len(text)
        return [row_of(width, pieces, "text/page")]

    def _left(self, view: Snapshot, width: int) -> list[tuple[str, str]]:
        glyph, style = FACES.get(view.guard.state, ("?", "warn!"))
        name = plain(view.robot) + (f" ({view.loadout})" if view.loadout else "")
        state = [(f"  {glyph} {view.guard.state} ", f"{style.rstrip('!')}/page!")]
        if view.flipped:
            state.append((" ⇅ upside down ", "warn/page!"))
        others = sum(len(text) for text, _ in (*state, *self._alarms(view))) + 5
        most = min(20 if width < 110 else 40, max(width - others, 3))
        return [(" ◣◥ ", "accent/page!"), (fit(name, most), "head/page!"), *state]

    def _right(self, view: Snapshot, width: int) -> list[tuple[int, str, str]]:
        """With a rank each: the lowest is the first to go where there is no room."""
        parts: list[tuple[int, str, str]] = []
        tuning, moving, link = view.tuning, view.transport, view.link
        if width >= 130:
            parts.append((0, f"{1000 / view.tick_ms:.0f} ticks/s  ", "dim/page"))
        parts.append((5, f"sticks: {SOURCES.get(moving.mode, moving.mode)}  ", "text/page"))
        if link.state != "none":
            parts += _link(link, width, behind=bool(view.cost.skipped_now_s))
        if self.bench.rehearsing is not None:
            parts.append((6, "receiver test (G)  ", "accent/page!"))
        if moving.recording:
            parts.append((4, "◉ recording  ", "bad/page!"))
        if self.bench.others:
            parts.append((2, f"⧉ {len(self.bench.others)} other window  ", "warn/page"))
        style = "dim/page" if tuning.saved else "warn/page!"
        parts.append((1 if tuning.saved else 3, f"{tuning_words(tuning)}  ", style))
        if tuning.file:
            parts.append((4, f"▲ file {tuning.file} (r)  ", "warn/page!"))
        if view.faults:
            words = "broken on purpose" if width > 110 else "fault"
            parts.append((7, f"▲ {len(view.faults)} {words}  ", "warn/page!"))
        return parts + [(9, *alarm) for alarm in self._alarms(view)]

    def _alarms(self, view: Snapshot) -> list[tuple[str, str]]:
        """Broken rules, held time and the clock: the robot's name is cut before any of them goes."""
        runs: list[tuple[str, str]] = []
        if view.rules:
            now = any(rule.now for rule in view.rules)
            runs.append(("✕ rule broken  " if now else "✕ rule was broken  ", "bad/page!"))
        if not view.transport.playing:
            runs.append(("‖ paused  ", "warn/page!"))
        elif view.transport.speed != 1:
            runs.append((f"×{view.transport.speed:g}  ", "text/page"))
        minutes, seconds = divmod(view.time_s, 60)
        runs.append((f"{int(minutes):02d}:{seconds:05.2f} ", "head/page"))
        return runs


def _link(link: LinkView, width: int, *, behind: bool) -> list[tuple[int, str, str]]:
    """Link and board: what is wrong stays longest; where it is narrow, all is well in one."""
    board, glyph = link.board, LINKS.get(link.state, "·")
    bad = link.state in ("lost", "unreadable", "quiet")
    said = f"link {link.state}"
    if link.state == "chip":
        where = f" on a simulated {board.name}, " if width >= 110 else ", "
        said = f"image{where}{'too slow' if behind else 'real time'}"
    parts = [(6 if bad else 3, f"{glyph} {said}  ", "bad/page!" if bad else "ok/page")]
    if board.differing:
        parts.append((8, "✕ board differs  ", "bad/page!"))
    elif warning := MIXES.get(board.runs) or WIRES.get(board.wires):
        parts.append((6, f"{warning}  ", "warn/page!"))
    elif board.compared and width >= 110:
        parts.append((2, f"board {board.agreeing}  ", "ok/page"))
    elif board.compared and not bad:
        parts = [(3, f"{glyph} board {board.agreeing.partition(' of')[0]}  ", "ok/page")]
    return parts


def tuning_words(tuning: TuningView) -> str:
    """Which of the two tunings drives, and what of both is not in the file yet."""
    if tuning.side not in ("A", "B"):
        return "tuning: hidden"
    if tuning.saved:
        return f"tuning {tuning.side}, as in the file"
    other = "BA"[tuning.side == "B"]
    unsaved = f"{tuning.changed} unsaved" if tuning.changed else "as in the file"
    also = f" · {other} {tuning.elsewhere} unsaved" if tuning.elsewhere else ""
    return f"✎ tuning {tuning.side} {unsaved}{also}"
