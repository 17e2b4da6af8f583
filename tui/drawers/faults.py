"""Break things: every fault of the catalogue, in and out by key or click."""

from collections.abc import Sequence
from typing import ClassVar

from textual import events

from mixer.live.robot.damage import FaultChoice
from tui.bench.commands import Command
from tui.drawers.listed import ListPanel, moving, rule
from tui.drawing.rows import Row, apart, fit, plain, row_of, wrapped

GROUPED = 64
"""Columns from which on the list has one for the groups."""


def _toggle(panel: "FaultsPanel") -> str:
    faults = panel.bench.session.faults
    if not faults.choices:
        return "nothing can be broken on this robot"
    choice = faults.choices[panel.at]
    if choice.refused:
        return f"not broken: {choice.words} {choice.refused}"
    return f"{'broken' if faults.toggle(choice.key) else 'mended'}: {choice.words}"


def _mend(panel: "FaultsPanel") -> str:
    count = len(panel.bench.session.faults.active)
    panel.bench.session.faults.clear_all()
    return f"{count} mended" if count else "nothing is broken"


class FaultsPanel(ListPanel):
    """A list of what can go wrong."""

    title: ClassVar[str] = "break things"
    letter: ClassVar[str] = "k"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
Everything that goes wrong on real robots, put between the receiver and the firmware while it runs.
enter or a click breaks it, again mends it; 0 mends everything.

What is marked "unseen" no firmware can notice from pulses alone; the lines at the bottom say what helps.
The diary's first line watches whether every rule still holds."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("up",), "before", "up", "the fault above", moving(-1)),
        Command(("down",), "next", "down", "the fault below", moving(1)),
        Command(("pageup",), "page_up", "", "ten up", moving(-10), 0),
        Command(("pagedown",), "page_down", "", "ten down", moving(10), 0),
        Command(("enter",), "toggle", "break/mend", "break or mend it", _toggle),
        Command(("0",), "mend", "mend all", "mend everything", _mend),
        Command(("escape",), "close", "close", "close", lambda panel: panel.host.open_drawer("")),
    )
    signs: ClassVar[tuple[tuple[str, str], ...]] = (("·", "whole"), ("▲ on", "broken now"))

    @property
    def count(self) -> int:
        """All faults of this robot."""
        return len(self.bench.session.faults.choices)

    def note(self) -> str:
        """What the one looked at concerns, and how many are on."""
        choices, on = self.bench.session.faults.choices, len(self.bench.snapshot.faults)
        return f"{choices[min(self.at, len(choices) - 1)].group} · {on} on" if choices else ""

    def draw(self, width: int, height: int) -> list[Row]:
        """The list around the cursor, and words about the fault there."""
        choices = self.bench.session.faults.choices
        if not choices:
            return [row_of(width, [(2, "nothing can be broken here", "dim")])]
        self.at = min(self.at, len(choices) - 1)
        words = self._words(choices[self.at], width, min(max(height // 3, 2), 6))
        active = self.bench.session.faults.active
        said = apart([plain(choice.words) for choice in choices], width - self._indent(width) - 1)

        def line(number: int) -> Row:
            return self._line(choices, number, active, said[number], width)

        return self.listed(line, [rule(width), *words], width, height)

    def on_click(self, event: events.Click) -> None:
        """Choose, and break or mend."""
        if self.clicked(event):
            self.bench.say(_toggle(self))
            self.host.paint_all()

    def _indent(self, width: int) -> int:
        """Columns before the words: for the mark, and where there is room for the group."""
        return 17 if width >= GROUPED else 3

    def _line(
        self, choices: Sequence[FaultChoice], number: int, active: Sequence[str], said: str, width: int
    ) -> Row:
        choice = choices[number]
        on, here, tone = choice.key in active, number == self.at, "dim" if choice.refused else "text"
        ground = "/plate" if here else ""
        first = number == 0 or choices[number - 1].group != choice.group or number == self.sight.start
        indent = self._indent(width)
        mark = ("▲ on" if indent > 3 else "▲") if on else "·"
        pieces = [(1, mark, f"warn{ground}!" if on else f"dim{ground}")]
        if indent > 3 and first:
            pieces.append((6, choice.group, f"dim{ground}"))
        pieces.append((indent, said, f"{'warn' if on else 'head' if here else tone}{ground}"))
        return row_of(width, pieces, f"text{ground}")

    def _words(self, choice: FaultChoice, width: int, most: int) -> list[Row]:
        said = plain(choice.words)
        lines = [(line, "text") for line in wrapped(said, width - 3)]
        if choice.refused:
            lines += [(line, "warn") for line in wrapped(choice.refused, width - 3)]
        if choice.unseen:
            unseen = "unseen: no firmware can notice this from its pulses"
            lines += [(line, "warn") for line in wrapped(unseen, width - 3)]
        lines += [(line, "dim") for line in wrapped(plain(choice.advice), width - 3)]
        return [row_of(width, [(2, fit(line, width - 3), style)]) for line, style in lines[:most]]
