"""Sticks and switches under the hands: pads to drag, sliders for what is left over, switches to click."""

from dataclasses import dataclass
from typing import ClassVar

from textual import events

from tui.bench.layout import Place
from tui.bench.state import SOURCES, share
from tui.drawing.bars import swing
from tui.drawing.pad import pad_value, stick_pad
from tui.drawing.rows import Piece, Row, beside, blank, fit, row_of, row_with
from tui.panels.base import Panel
from tui.panels.receiver import positions

KEYS = (("ad", "sw"), ("jl", "ki"))
"""Keys of the first two pads, across and upright, as they are shown."""


@dataclass(frozen=True, slots=True)
class Grip:
    """Something that can be dragged: a pad, or a slider with only a sideways stick."""

    place: Place
    across: str
    upright: str


class HandsPanel(Panel):
    """Pads, sliders and switches."""

    title: ClassVar[str] = "hands"
    letter: ClassVar[str] = "h"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
Drag in a pad, or use its keys: w a s d for the left one, i j k l for the right one. A press of a key moves
the stick by ten per cent and it stays; with shift it is one per cent; c centres everything. With Z, a key
held down runs the stick to its end, and letting go springs it back.

H chooses whether a stick that the mouse lets go of springs back or stays.
Further sticks are sliders below; [ and ] choose a stick, - and = move it.
1 to 9 move the switches on; a click does as well.

While a log, a link or a game controller has the sticks, the pads follow it; M changes over."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("⢾⣿⡷", "the knob of a stick, and its way from neutral; the circle is half of full"),
        ("↔  ↕", "the sticks that go across and up and down in a pad, with their keys"),
        ("█▌", "a stick that has no pad: drag along its bar"),
        ("[on] 2/2", "the position a switch is in, and which it is of how many"),
    )

    def on_mount(self) -> None:
        """Nothing is held yet."""
        self._held: Grip | None = None

    def note(self) -> str:
        """Whether sticks spring back, or who else has them."""
        mode = self.bench.snapshot.transport.mode
        if mode != "hand":
            return f"sticks from: {SOURCES[mode]}"
        return "spring back" if self.bench.springs else "stay put"

    def seen(self) -> object:
        """Where sticks and switches are, and who has them."""
        view = self.bench.snapshot
        values = [self._value(stick.name) for stick in self.bench.sticks]
        return view.plan_revision, view.transport.mode, values, view.switches

    def grips(self, width: int, height: int) -> list[Grip]:
        """Everything that can be dragged, in cells below the title."""
        pads = self.bench.pads()
        shown, rest = pads[: 2 if width > 4 else 0], [name for pair in pads[2:] for name in pair if name]
        switches = -(-len(self.bench.snapshot.switches) // self._abreast(width))
        legend = self._legend(height)
        tall = max(height - switches - len(rest) - legend, 3)
        wide = (width - 1 - len(shown)) // max(len(shown), 1)
        wide = min(wide, tall * 3)
        tall = max(min(tall, wide * 6 // 10), 3)  # dots are square: much higher would be a tower
        grips = [
            Grip(Place(1 + number * (wide + 1), 0, wide, tall), across, upright)
            for number, (across, upright) in enumerate(shown)
        ]
        top = tall + legend
        return grips + [
            Grip(Place(12, top + number, width - 18, 1), name, "") for number, name in enumerate(rest)
        ]

    def draw(self, width: int, height: int) -> list[Row]:
        """Pads beside each other, then sliders, then switches."""
        grips = self.grips(width, height)
        pads = [grip for grip in grips if grip.place.height > 1]
        rows = self._pads(pads, width, self._legend(height)) if pads else [blank(width)]
        for grip in grips[len(pads) :]:
            rows.append(self._slider(grip, width))
        return rows + self._switches(width)

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Take hold of what is there."""
        column, line = event.x, event.y - 1
        for grip in self.grips(self.size.width, self.size.height - 1):
            place = grip.place
            if place.x <= column < place.x + place.width and place.y <= line < place.y + place.height:
                if self.bench.snapshot.transport.mode != "hand":
                    mode = SOURCES[self.bench.snapshot.transport.mode]
                    self.bench.say(f"the {mode} has the sticks: M changes over")
                    return
                self._held = grip
                self.capture_mouse()
                self._drag(event)
                return
        self._click_switch(column, line)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Drag."""
        if self._held is not None:
            self._drag(event)

    def on_mouse_up(self, _event: events.MouseUp) -> None:
        """Let go: it springs back, or stays."""
        held, self._held = self._held, None
        self.release_mouse()
        if held is not None and self.bench.springs:
            for name in filter(None, (held.across, held.upright)):
                self.bench.session.sticks.release(name)
        self.paint()

    def _drag(self, event: events.MouseEvent) -> None:
        """Set what is held from where the mouse is, and show it at once."""
        assert self._held is not None
        place = self._held.place
        x, y = pad_value(event.x + 0.5 - place.x, event.y - 1 + 0.5 - place.y, place.width, place.height)
        sticks = self.bench.session.sticks
        if self._held.across:
            sticks.set(self._held.across, x)
        if self._held.upright:
            sticks.set(self._held.upright, y)
        self.paint()

    def _value(self, name: str) -> float:
        """Where a stick is: as the hands hold it, or as whoever else has the sticks sends it."""
        if not name:
            return 0.0
        if self.bench.snapshot.transport.mode == "hand":
            return self.bench.session.sticks.value(name)
        return next((share(stick.scaled) for stick in self.bench.sticks if stick.name == name), 0.0)

    def _legend(self, height: int) -> int:
        """Rows of words below the pads: one for each axis where there is room."""
        return 2 if height >= 10 else 1

    def _pads(self, pads: list[Grip], width: int, lines: int) -> list[Row]:
        tall = pads[0].place.height
        blocks: list[list[Row]] = []
        legend: list[list[Piece]] = [[] for _ in range(lines)]
        for number, grip in enumerate(pads):
            place = grip.place
            blocks += [
                [blank(1)] * tall,
                stick_pad(self._value(grip.across), self._value(grip.upright), place.width, tall),
            ]
            for words, pieces in zip(legend, self._words(grip, number, lines), strict=False):
                words.extend(pieces)
        used = sum(grip.place.width + 1 for grip in pads)
        blocks.append([blank(width - used)] * tall)
        return [*beside(*blocks), *(row_of(width, pieces) for pieces in legend)]

    def _words(self, grip: Grip, number: int, lines: int) -> list[list[Piece]]:
        """Keys, names and values of a pad's sticks, in one line or one for each axis."""
        axes = (("↔", grip.across, KEYS[number][0]), ("↕", grip.upright, KEYS[number][1]))
        if lines == 1:
            said = "  ".join(
                f"{a} {name} {round(self._value(name) * 100):+d}" for a, name, _ in axes if name
            )
            return [[(grip.place.x, fit(said, grip.place.width), "dim")]]
        found: list[list[Piece]] = []
        for arrow, name, keys in axes:
            value = f"{round(self._value(name) * 100):+4d}"
            words = fit(f"{arrow} {name}", grip.place.width - 8)
            x = grip.place.x
            pieces = [(x, keys, "accent"), (x + 3, words, "dim"), (x + 4 + len(words), value, "text")]
            found.append(pieces if name else [])
        return found

    def _slider(self, grip: Grip, width: int) -> Row:
        name = grip.across or grip.upright
        value = self._value(name)
        style = "head!" if name == self.bench.stick else "text"
        place = grip.place
        pieces = [(1, fit(name, 10), style), (place.x + place.width, f"{round(value * 100):+5d}", "dim")]
        return row_with(width, pieces, (place.x, swing(value, place.width // 2 * 2)))

    def _abreast(self, width: int) -> int:
        """Switches in one row."""
        return 2 if width >= 52 else 1

    def _switches(self, width: int) -> list[Row]:
        switches = self.bench.snapshot.switches
        abreast = self._abreast(width)
        each = width // abreast
        rows = []
        for start in range(0, len(switches), abreast):
            pieces: list[Piece] = []
            for place, switch in enumerate(switches[start : start + abreast]):
                left = place * each
                pieces += [
                    (left + 1, f"{start + place + 1}", "accent"),
                    (left + 3, fit(switch.name, 9), "text"),
                ]
                pieces += positions(switch, left + 13, each - 14)
            rows.append(row_of(width, pieces))
        return rows

    def _click_switch(self, column: int, line: int) -> None:
        width, height = self.size.width, self.size.height - 1
        grips = self.grips(width, height)
        sliders = [grip for grip in grips if grip.place.height == 1]
        pads = [grip for grip in grips if grip.place.height > 1]
        top = (pads[0].place.height + self._legend(height) if pads else 1) + len(sliders)
        abreast = self._abreast(width)
        number = (line - top) * abreast + min(column // (width // abreast), abreast - 1)
        switches = self.bench.snapshot.switches
        if line >= top and 0 <= number < len(switches):
            self.host.cycle_switch(switches[number].name)
