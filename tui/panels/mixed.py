"""The third stage: what the mix asks of every output, with over-range."""

from typing import ClassVar

from mixer.core.ops import ONE
from mixer.live.views.snapshot import OutputView
from tui.bench.state import percent, share
from tui.drawing.bars import swing
from tui.drawing.rows import Piece, Row, apart, blank, fit, row_of, row_with
from tui.panels.river import StagePanel, name_style, names_width


class MixedPanel(StagePanel):
    """Names of the outputs, and what sticks ask of them before anything holds them back."""

    title: ClassVar[str] = "mixed"
    letter: ClassVar[str] = "x"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
What the mix asks of every output, in per cent of full.

Try: full throttle and full steering together."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("▲ +134", "the sticks ask for more than there is (over-range)"),
        (
            "█▌",
            "what is left after the group's policy (clip, scale or yield); the pale part is what it took",
        ),
    )

    def note(self) -> str:
        """How many are over range."""
        over = sum(abs(output.mixed) > ONE for output in self.bench.snapshot.outputs)
        return f"▲ {over} over" if over else ""

    def seen(self) -> object:
        """What every output is asked for."""
        return self.bench.snapshot.plan_revision, self.bench.snapshot.outputs

    def draw(self, width: int, height: int) -> list[Row]:
        """A row for each output."""
        view = self.bench.snapshot
        placed = self.outputs(height)
        rows = [blank(width) for _ in range(height)]
        names = names_width(
            [output.name for output in view.outputs], width - 8 if width < 34 else width - 20
        )
        said = apart([output.name.ljust(names) for output in view.outputs], names)
        for number, (output, line) in enumerate(zip(view.outputs, placed.lines, strict=True)):
            if line < 0:
                continue
            rows[line] = self._line(output, number, width, said[number])
            if placed.pitch > 1 and line + 1 < height and abs(output.mixed) > ONE:
                words = fit(
                    next((held.words for held in output.held if held.kind == "over-range"), "over range"),
                    width - 2,
                )
                rows[line + 1] = row_of(width, [(1, words, "warn")])
        return rows

    def _line(self, output: OutputView, number: int, width: int, said: str) -> Row:
        over = abs(output.mixed) > ONE
        names = len(said)
        pieces: list[Piece] = [(1, said, name_style(self.bench, number))]
        figure = f"{'▲' if over else ' '}{percent(output.mixed)}"
        pieces.append((width - 7, figure.rjust(6), "warn!" if over else "text" if output.mixed else "dim"))
        bar = (width - names - 10) // 2 * 2
        if bar < 4:
            return row_of(width, pieces)
        runs = swing(share(output.blended), bar, towards=max(min(share(output.mixed), 1.0), -1.0))
        return row_with(width, pieces, (names + 2, runs))
