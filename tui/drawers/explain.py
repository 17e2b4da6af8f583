"""The chain of numbers of one output at this instant, from its pulses to its wire."""

from collections.abc import Callable, Sequence
from typing import ClassVar

from mixer.runs.explain.steps import Step
from tui.bench.commands import Command
from tui.bench.state import percent, share
from tui.drawing.bars import swing
from tui.drawing.rows import Row, blank, fit, plain, row_of, row_with, wrapped
from tui.panels.base import Panel

BARE = ("pulse", "wire")
"""Stages whose value is no share of full."""


def _move(by: int) -> Callable[["ExplainPanel"], None]:
    def run(panel: "ExplainPanel") -> None:
        panel.bench.look_at(panel.bench.looking.output + by)
        panel.bench.looking.lit = True

    return run


def _scroll(by: int) -> Callable[["ExplainPanel"], None]:
    def run(panel: "ExplainPanel") -> None:
        panel.back = max(panel.back + by, 0)

    return run


class ExplainPanel(Panel):
    """Why is this motor told this?"""

    title: ClassVar[str] = "explain"
    letter: ClassVar[str] = "e"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
One output followed through the firmware at this very instant, stage by stage: every number is a signal of
the last tick. Pulses of its sticks come first, the wire comes last.

↑ and ↓ choose the output, page down shows further stages where not all fit; space pauses, so that the
numbers can be read; esc closes."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("up",), "output_before", "before", "explain the output before", _move(-1)),
        Command(("down",), "output_after", "next", "explain the next output", _move(1)),
        Command(
            ("pagedown",), "further", "further", "further stages, where not all fit", _scroll(4), 2, "pgdn"
        ),
        Command(("pageup",), "back", "", "earlier stages", _scroll(-4), 0),
        Command(("escape",), "close", "close", "close", lambda panel: panel.host.open_drawer("")),
    )
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("█▌", "what a stage gives, in per cent of full"),
        ("·····", "a stage that gives a pulse or a count, no share"),
        ("↑2 ↓3", "so many lines are out of sight above and below"),
    )

    def note(self) -> str:
        """Which output."""
        output = self.bench.output
        name = output.name if output is not None else ""
        return f"{name}  ↑{self.back} ↓{self.below}" if self.back or self.below else name

    def on_mount(self) -> None:
        """At the first stage."""
        self.back = self.below = 0

    def draw(self, width: int, height: int) -> list[Row]:
        """A row a stage and more where its words need it; where not all fits, a window over them."""
        output = self.bench.output
        if output is None:
            return [row_of(width, [(2, "no outputs", "dim")])]
        steps = list(self.bench.session.explain(output.name))
        rows = self._rows_of(steps, width, roomy=height >= 2 * len(steps))
        self.back = min(self.back, max(len(rows) - height, 0))
        self.below = max(len(rows) - height - self.back, 0)
        return rows[self.back : self.back + height] or [blank(width)]

    def _rows_of(self, steps: Sequence[Step], width: int, *, roomy: bool) -> list[Row]:
        rows: list[Row] = []
        for step in steps:
            first, *more = [""] * roomy + wrapped(plain(step.text), max(width - 24, 8))
            rows.append(self._step(step.stage, step.value, first, width))
            rows += [row_of(width, [(13, fit(line, width - 14), "dim")]) for line in more]
        return rows

    def _step(self, stage: str, value: int, text: str, width: int) -> Row:
        pieces = [(1, fit(stage, 10), "head"), (width - 9, self._number(stage, value), "text")]
        if text:
            return row_of(width, [pieces[0], (13, fit(plain(text), width - 24), "dim"), pieces[1]])
        bar = max((width - 24) // 2 * 2, 2)
        if stage in BARE:
            return row_of(width, [pieces[0], (13, "·" * bar, "faint"), pieces[1]])
        return row_with(width, pieces, (13, swing(share(value), bar)))

    def _number(self, stage: str, value: int) -> str:
        return f"{value:6d}  " if stage in BARE else f"{percent(value).rjust(6)} %"
