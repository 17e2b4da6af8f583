"""From feel to number: what drivers say of a robot, and B with what to turn for it."""

from collections.abc import Sequence
from typing import ClassVar

from textual import events

from mixer.live.tuning.trying import try_out
from mixer.profile.feel.advice import Advice, advice
from mixer.profile.feel.feelings import FEELINGS
from tui.bench.commands import Command
from tui.drawers.listed import ListPanel, moving, rule
from tui.drawing.rows import Row, fit, plain, row_of, wrapped

MOST_MOVES = 3
"""Keys of a step that are shown one by one."""


def _try(panel: "FeelPanel") -> str:
    steps = panel.steps
    if not steps:
        return "nothing to turn for that on this robot"
    left = try_out(panel.bench.session.tuning, steps[0].moves)
    return f"did not fit: {left}" if left else "B drives with the step, A as it was: x changes over"


class FeelPanel(ListPanel):
    """A list of what drivers say, and what to turn for the one looked at."""

    title: ClassVar[str] = "feel"
    letter: ClassVar[str] = "n"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
What drivers say of a robot, in their own words. Below the list stands what to turn for it: which keys, from
what to what, why, and the figure that shows whether it helped.

enter takes the first step: A stays the tuning that was driven, B is the same with the keys turned, and B
drives. x changes over, so that the hands can tell; u takes the step back; t turns on from there. The course
measures whether B is better."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("up",), "before", "up", "the line above", moving(-1)),
        Command(("down",), "next", "down", "the line below", moving(1)),
        Command(("pageup",), "page_up", "", "ten up", moving(-10), 0),
        Command(("pagedown",), "page_down", "", "ten down", moving(10), 0),
        Command(("enter",), "try", "try as B", "B becomes this step, A stays as it was", _try, 1),
        Command(("escape",), "close", "close", "close", lambda panel: panel.host.open_drawer(""), 1),
    )

    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("▸", "the one looked at"),
        ("->", "from what the tuning says to what the step makes of it"),
    )

    def on_mount(self) -> None:
        """Nothing is known yet."""
        self._known: tuple[object, Sequence[Advice]] = (None, ())

    @property
    def count(self) -> int:
        """All that drivers say."""
        return len(FEELINGS)

    @property
    def steps(self) -> Sequence[Advice]:
        """What to turn for the one looked at, from what the tuning in use says."""
        tuning = self.bench.session.tuning
        of = (self.at, tuning.profile.text, tuning.loadout)
        if self._known[0] != of:
            self._known = of, advice(tuning.profile, tuning.loadout, FEELINGS[self.at])
        return self._known[1]

    def seen(self) -> object:
        """The list moves only under the cursor, and what it says with the tuning."""
        text, side = self.bench.session.tuning.profile.text, self.bench.snapshot.tuning.side
        return self.at, self.has_focus, text, side

    def note(self) -> str:
        """Which tuning drives."""
        view = self.bench.snapshot.tuning
        return f"{view.side} drives · {view.changed} changed"

    def draw(self, width: int, height: int) -> list[Row]:
        """The list around the cursor, and what to turn."""
        words = self._words(width, max(height - 4, 3))
        return self.listed(lambda number: self._line(number, width), [rule(width), *words], width, height)

    def on_click(self, event: events.Click) -> None:
        """Look at it."""
        if self.clicked(event):
            self.host.paint_all()

    def _line(self, number: int, width: int) -> Row:
        here = number == self.at
        ground = "/plate" if here else ""
        words = fit(FEELINGS[number].words, width - 4)
        pieces = [
            (1, "▸" if here else " ", f"accent{ground}"),
            (3, words, f"head{ground}!" if here else "text"),
        ]
        return row_of(width, pieces, f"text{ground}")

    def _words(self, width: int, most: int) -> list[Row]:
        """The first step in full, then what shows it and where it is from."""
        feeling, steps = FEELINGS[self.at], self.steps
        lines: list[tuple[str, str]] = []
        if steps:
            lines += [(str(move), "live") for move in steps[0].moves[:MOST_MOVES]]
            more = len(steps[0].moves) - MOST_MOVES
            lines += [(f"and {more} more alike", "live")] if more > 0 else []
            lines += [(steps[0].why, "text"), (f"source: {steps[0].source}", "dim")]
        else:
            lines += [("nothing to turn: no key for it here, or all are at their ends", "warn")]
        lines.insert(-1 if steps else 1, (f"shows it: {feeling.figure}", "dim"))
        cut = [(part, style) for line, style in lines for part in wrapped(plain(line), width - 3)]
        return [row_of(width, [(2, part, style)]) for part, style in cut[:most]]
