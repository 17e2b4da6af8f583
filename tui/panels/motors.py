"""The last stage before the floor: what every motor is told, and what holds it back."""

from collections.abc import Callable, Iterator, Mapping
from typing import ClassVar

from mixer.live.views.snapshot import OutputView
from tui.bench.commands import Command
from tui.bench.state import percent, share
from tui.drawing.bars import swing
from tui.drawing.rows import Piece, Row, apart, blank, fit, row_of, row_with
from tui.panels.river import StagePanel, name_style, names_width

GLYPHS: Mapping[str, str] = {
    "over-range": "▲", "limit": "┬", "guard": "■", "interlock": "┤", "pause": "‖", "slew": "╱",
}  # fmt: skip
"""One glyph for each thing that can hold an output back."""
SHORT: Mapping[str, str] = {"over-range": "over", "interlock": "stop"}


def _move(by: int) -> Callable[["MotorsPanel"], None]:
    def run(panel: "MotorsPanel") -> None:
        panel.bench.look_at(panel.bench.looking.output + by)
        panel.bench.looking.lit = True
        panel.keep_in_sight()

    return run


def _unlight(panel: "MotorsPanel") -> None:
    panel.bench.looking.lit = not panel.bench.looking.lit


class MotorsPanel(StagePanel):
    """Commands, wire values, what holds back, amperes and heat."""

    title: ClassVar[str] = "motors"
    letter: ClassVar[str] = "o"
    help: ClassVar[str] = """\
What every motor is told, in per cent of full, and what holds it back. Amperes and winding heat show where
the profile has motor data. Up and down choose an output; enter explains it stage by stage."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("█▌", "what it is told; the pale part is where the mix wants it"),
        ("53/255", "on the wire: a duty count of that top, its sign the direction"),
        ("1620 µs", "on the wire: a pulse"),
        ("▲ over-range", "held back: the group's policy took something"),
        ("┬ limit", "held back by its own limit"),
        ("■ guard", "held at zero: the gate is shut"),
        ("┤ stop", "held back: an end stop blocks this direction"),
        ("‖ pause", "it rests before it reverses"),
        ("╱ slew", "it is on its way, as fast as its slew allows"),
        ("↑2 ↓3", "so many outputs are out of sight above and below"),
    )
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("up",), "output_before", "up", "look at the output above", _move(-1)),
        Command(("down",), "output_after", "down", "look at the output below", _move(1)),
        Command(
            ("enter",),
            "explain_here",
            "explain",
            "explain this output",
            lambda panel: panel.host.open_drawer("explain"),
        ),
        Command(("escape",), "light", "all", "light one way or all", _unlight),
    )

    def end(self) -> str:
        """The rail goes on to the floor."""
        return "▶"

    def note(self) -> str:
        """Where not all fit, what is out of sight."""
        placed, held = self.outputs(max(self.size.height - 1, 1)), self._held()
        if placed.above or placed.below:
            return f"↑{placed.above} ↓{placed.below}" + (" ■" if held else "")
        return f"■ {held}" if held else "% and on the wire"

    def _held(self) -> str:
        """What the guard does to all of them, said once: each row has its glyph. Empty when it is open."""
        words = {
            held.words.rpartition(": ")[2]
            for output in self.bench.snapshot.outputs
            for held in output.held
            if held.kind == "guard"
        }
        return " or ".join(sorted(words))

    def keep_in_sight(self) -> None:
        """Scroll so that the output looked at shows."""
        looking, height = self.bench.looking, self.size.height - 1
        looking.first = min(max(looking.first, looking.output - height + 1), looking.output)

    def seen(self) -> object:
        """What every motor is told, its amperes and degrees as they are written."""
        view, physics = self.bench.snapshot, self.bench.snapshot.physics
        if physics is None:
            return view.plan_revision, view.outputs
        amperes = [round(a, 1) for a in physics.output_a]
        return (
            view.plan_revision,
            view.outputs,
            amperes,
            [heat and round(heat) for heat in physics.winding_c],
        )

    def draw(self, width: int, height: int) -> list[Row]:
        """A row for each output, with a second one of details where there is room."""
        view = self.bench.snapshot
        placed = self.outputs(height)
        rows = [blank(width) for _ in range(height)]
        named = "mixed" not in self.host.places
        names = names_width([output.name for output in view.outputs], 12) + 1 if named else 0
        said = (
            apart([output.name for output in view.outputs], names - 1)
            if named
            else [""] * len(placed.lines)
        )
        for number, (output, line) in enumerate(zip(view.outputs, placed.lines, strict=True)):
            if line < 0:
                continue
            rows[line] = self._line(output, number, width, said[number], names, tight=placed.pitch == 1)
            if placed.pitch > 1 and line + 1 < height:
                rows[line + 1] = row_of(width, self._detail(output, number, width))
        return rows

    def _line(
        self, output: OutputView, number: int, width: int, said: str, names: int, *, tight: bool
    ) -> Row:
        pieces: list[Piece] = []
        if names:
            pieces.append((1, said, name_style(self.bench, number)))
        room = width - names - 2
        tail = 6 + (9 if room >= 34 else 0)
        words = 8 if tight and room >= 20 + tail - 6 else 2 if tight else 0
        bar = max((room - tail - words) // 2 * 2, 2)
        at = 1 + names + bar
        pieces.append((at, percent(output.command).rjust(5), "text" if output.command else "dim"))
        at += 6
        if tail > 6:
            pieces.append((at, wire_of(output).rjust(8), "dim"))
            at += 9
        if words and output.held:
            glyph, word, style = held_of(output)
            said = glyph if words < 8 or glyph == GLYPHS["guard"] else fit(f"{glyph} {word}", 8)
            pieces.append((at, said, style))
        towards = share(output.blended)
        return row_with(width, pieces, (1 + names, swing(share(output.command), bar, towards=towards)))

    def _detail(self, output: OutputView, number: int, width: int) -> Iterator[Piece]:
        at = 1
        physics = self.bench.snapshot.physics
        if physics is not None and width >= 24:
            heat = physics.winding_c[number] if number < len(physics.winding_c) else None
            words = f"{abs(physics.output_a[number]):.1f} A".ljust(6) + (
                f" {heat:.0f} °C" if heat is not None and width >= 30 else ""
            )
            yield at, words, "dim"
            at += len(words) + 2
        if output.held:
            glyph, _, style = held_of(output)
            held = output.held[-1]
            words = "" if held.kind == "guard" else held.words  # the title says it, and the gate why
            yield at, fit(f"{glyph} {words}", width - at - 1), style.rstrip("!")


def wire_of(output: OutputView) -> str:
    """What the board puts out: a pulse, or a duty count of its top."""
    if output.unit == "µs":
        return f"{output.wire} µs"
    return f"{output.wire}{output.unit.replace(' ', '')}"


def held_of(output: OutputView) -> tuple[str, str, str]:
    """Glyph, word and style of what holds an output back last."""
    kind = output.held[-1].kind
    style = "bad!" if kind == "guard" else "dim" if kind in ("slew", "pause") else "warn!"
    return GLYPHS.get(kind, "·"), SHORT.get(kind, kind), style
