"""The foot: what is being said, and the keys that work now; each can be clicked."""

from collections.abc import Iterator
from typing import ClassVar

from textual import events

from tui.bench.commands import Command
from tui.drawing.rows import Piece, Row, fit, plain, row_of
from tui.panels.base import Panel

LEVELS = {"note": ("·", "text"), "warn": ("▲", "warn"), "bad": ("✕", "bad")}


class KeysPanel(Panel, can_focus=False):
    """One row of keys; above it, where there are two, the newest words."""

    headed: ClassVar[bool] = False
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("·  ▲  ✕", "what was done or happened last: a note, a warning, something refused or bad"),
        ("⇧  ^", "with shift, with ctrl"),
    )
    every: ClassVar[int] = 2

    def seen(self) -> object:
        """What is said, and what changes the keys that work without one being pressed."""
        view, bench = self.bench.snapshot, self.bench
        return (
            bench.said(),
            view.event_count,
            bench.focus,
            view.transport.mode,
            view.link.state,
            view.tuning,
        )

    def draw(self, width: int, height: int) -> list[Row]:
        """Words above keys; with a single row, fresh words stand before the keys, or for bad news alone."""
        if height > 1:
            return [row_of(width, self._told(width), "text/page"), self._keys(width, 0)]
        said, before = self.bench.said(), self._before(width)
        if said is None:
            return [self._keys(width, 0)]
        words = _words(0, before, *said)
        return [row_of(width, [*words, *self._pieces(width, before)], "text/page")]

    def on_click(self, event: events.Click) -> None:
        """A click on a key is that key."""
        if event.y != self.size.height - 1:
            return
        width = self.size.width
        for start, command, pieces in self._laid(width, 0 if self.size.height > 1 else self._before(width)):
            if start <= event.x < start + sum(len(text) for _, text, _ in pieces):
                self.host.run_command(command)
                return

    def _before(self, width: int) -> int:
        """Columns that fresh words take from a single row of keys."""
        said = self.bench.said()
        if said is None:
            return 0
        return min(len(said[0]) + 5, width if said[1] != "note" else max(width * 2 // 3, 20))

    def _keys(self, width: int, start: int) -> Row:
        return row_of(width, self._pieces(width, start), "text/page")

    def _pieces(self, width: int, start: int) -> list[Piece]:
        return [piece for _, _, pieces in self._laid(width, start) for piece in pieces]

    def _told(self, width: int) -> list[Piece]:
        """What a key did, then what happened last: neither hides the other."""
        said, newest = self.bench.said(), self.bench.session.events.newest(1)
        pieces = _words(0, width if not newest else width * 2 // 3, *said) if said else []
        if newest and (said is None or said[0] != newest[-1].words):
            at = pieces[-1][0] + len(pieces[-1][1]) + 2 if pieces else 0
            event = newest[-1]
            pieces += _words(at, width, f"{event.time_s:.2f} s  {event.words}", event.level)
        return pieces

    def _laid(self, width: int, start: int) -> Iterator[tuple[int, Command, list[Piece]]]:
        """Each command that can do something, with its column, while there is room."""
        named = [command for command in self.host.commands_now() if command.label and command.foot]
        commands = [command for command in named if command.when(self.host)]
        own = self.host.commands_now(own=True)
        rank = {
            id(command): (1.5 if command in own else command.foot, number)
            for number, command in enumerate(commands)
        }
        chosen, taken = set(), start + 1
        for command in sorted(commands, key=lambda item: rank[id(item)]):
            need = len(command.key) + len(command.label) + 3
            if taken + need <= width:
                chosen.add(id(command))
                taken += need
        at = start + 1
        for command in commands:
            if id(command) in chosen:
                key = f" {command.key} "
                yield (
                    at,
                    command,
                    [(at, key, "accent/plate!"), (at + len(key), command.label, "dim/page")],
                )
                at += len(key) + len(command.label) + 1


def _words(at: int, width: int, words: str, level: str) -> list[Piece]:
    """A glyph and words from a column on, up to a width."""
    glyph, style = LEVELS.get(level, LEVELS["note"])
    said = fit(plain(words), width - at - 4)
    return [(at + 1, glyph, f"{style}/page!"), (at + 3, said, f"{style}/page")]
