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
    every: ClassVar[int] = 2

    def draw(self, width: int, height: int) -> list[Row]:
        """Words and keys; with a single row, fresh words take the place of the keys."""
        said = self.bench.said()
        keys = row_of(width, [piece for _, _, pieces in self._laid(width) for piece in pieces], "text/page")
        if height > 1:
            return [self._words(width, said), keys]
        return [self._words(width, said) if said else keys]

    def on_click(self, event: events.Click) -> None:
        """A click on a key is that key."""
        if event.y != self.size.height - 1:
            return
        for start, command, pieces in self._laid(self.size.width):
            if start <= event.x < start + sum(len(text) for _, text, _ in pieces):
                self.host.run_command(command)
                return

    def _words(self, width: int, said: tuple[str, str] | None) -> Row:
        if said is None:
            newest = self.bench.session.events.newest(1)
            if not newest:
                return row_of(width, [], "text/page")
            event = newest[-1]
            said = f"{event.time_s:.2f} s  {event.words}", event.level
        glyph, style = LEVELS.get(said[1], LEVELS["note"])
        return row_of(
            width,
            [(1, glyph, f"{style}/page!"), (3, fit(plain(said[0]), width - 4), f"{style}/page")],
            "text/page",
        )

    def _laid(self, width: int) -> Iterator[tuple[int, Command, list[Piece]]]:
        """Each command with its column, as long as there is room; the always-shown ones first of all."""
        commands = [command for command in self.host.commands_now() if command.label and command.foot]
        own = self.host.commands_now(own=True)
        rank = {
            id(command): (0 if command in own else command.foot, number)
            for number, command in enumerate(commands)
        }
        chosen, taken = set(), 1
        for command in sorted(commands, key=lambda item: rank[id(item)]):
            need = len(command.key) + len(command.label) + 3
            if taken + need <= width:
                chosen.add(id(command))
                taken += need
        at = 1
        for command in commands:
            if id(command) in chosen:
                key = f" {command.key} "
                yield (
                    at,
                    command,
                    [(at, key, "accent/plate!"), (at + len(key), command.label, "dim/page")],
                )
                at += len(key) + len(command.label) + 1
