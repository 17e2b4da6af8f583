"""The first stage: what comes from the receiver, and what scaling and shaping make of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from textual import events

from mixer.live.views.snapshot import ChannelView, SourceView, SwitchView
from tui.bench.state import percent, share
from tui.drawing.bars import swing
from tui.drawing.rows import Piece, Row, apart, blank, fit, row_of, row_with
from tui.panels.river import Spread, StagePanel, names_width, spread


@dataclass(frozen=True, slots=True)
class Entry:
    """One row: a source of the mix, or a switch that is not mixed."""

    name: str
    channel: ChannelView
    source: SourceView | None
    switch: SwitchView | None


class ReceiverPanel(StagePanel):
    """Pulses, their age, and the shaped command of every stick and switch."""

    title: ClassVar[str] = "receiver ❯ shaped"
    letter: ClassVar[str] = "r"
    help: ClassVar[str] = """\
One row for each stick and switch, with its pulse in µs: 1000 to 2000 around 1500 is usual. Click a switch
or press its number to move it on.

Try: move a stick a little and see the deadband swallow it."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("● fresh", "a good pulse came within one and a half frames"),
        ("◐ gap", "it is late: bridged with the last good one, its age in ms counts up"),
        ("○ lost", "it stayed away for lost_after_ms"),
        (
            "█▌",
            "the command after deadband, expo and rate; the pale part is what shaping took off the stick",
        ),
        ("▏", "the middle of a bar: right of it forward or up, left of it the other way"),
        ("❯ soft", "the shape in use"),
        ("[on] 2/2", "the position a switch is in, and which it is of how many"),
    )

    def entries(self) -> tuple[Entry, ...]:
        """Sources first, in the mix's order."""
        view = self.bench.snapshot
        wires = {channel.name: channel for channel in view.channels}
        switches = {switch.name: switch for switch in view.switches}
        mixed = tuple(
            Entry(source.name, wires[source.channel], source, switches.get(source.name))
            for source in view.sources
        )
        known = {entry.name for entry in mixed}
        rest = tuple(
            Entry(switch.name, wires[switch.channel], None, switch)
            for switch in view.switches
            if switch.name not in known
        )
        return mixed + rest

    def placed(self, height: int) -> Spread:
        """Where each entry's row is."""
        return spread(len(self.entries()), height)

    def note(self) -> str:
        """How many wires."""
        return f"{len(self.bench.snapshot.channels)} channels"

    def seen(self) -> object:
        """Pulses, and their age once it means something; what is made of them."""
        view = self.bench.snapshot
        wires = [
            (wire.pulse_us, wire.good, wire.lost, wire.missing and wire.age_ms) for wire in view.channels
        ]
        return view.plan_revision, wires, view.sources, view.switches

    def draw(self, width: int, height: int) -> list[Row]:
        """All entries, as roomy as fits."""
        entries = self.entries()
        placed = self.placed(height)
        rows = [blank(width) for _ in range(height)]
        names = names_width([entry.name for entry in entries], 8 if width < 32 else 12)
        said = apart([entry.name for entry in entries], names)
        for number, (entry, line) in enumerate(zip(entries, placed.lines, strict=True)):
            if line < 0:
                continue
            rows[line] = self._line(entry, said[number], width, names)
            if placed.pitch > 1 and line + 1 < height:
                rows[line + 1] = row_of(width, self._detail(entry, width, names))
        return rows

    def on_click(self, event: events.Click) -> None:
        """A click on a switch moves it on; on a stick, its response is shown."""
        entries = self.entries()
        placed = self.placed(self.size.height - 1)
        for entry, line in zip(entries, placed.lines, strict=True):
            if 0 <= line <= event.y - 1 < line + placed.pitch:
                if entry.switch is not None:
                    self.host.cycle_switch(entry.switch.name)
                else:
                    self.bench.looking.stick = entry.name
                self.host.paint_all()

    def _line(self, entry: Entry, said: str, width: int, names: int) -> Row:
        glyph, _, style = freshness(entry.channel)
        pieces: list[Piece] = [
            (1, glyph, style),
            (3, said, "head!" if entry.name == self.bench.looking.stick else "text"),
            (4 + names, f"{entry.channel.pulse_us:4d}", "dim" if entry.channel.good else "warn!"),
        ]
        at = 9 + names
        if entry.source is None or entry.switch is not None:
            assert entry.switch is not None
            return row_of(width, [*pieces, *positions(entry.switch, at, width - at - 1)])
        bar = max((width - at - 6) // 2 * 2, 2)
        shaped = entry.source.shaped
        pieces.append((at + bar, percent(shaped).rjust(5), "text" if shaped else "dim"))
        return row_with(width, pieces, (at, swing(share(shaped), bar, towards=share(entry.source.scaled))))

    def _detail(self, entry: Entry, width: int, names: int) -> Iterator[Piece]:
        channel = entry.channel
        _, word, style = freshness(channel)
        if word == "fresh":
            yield 3, word, "dim"
        else:
            yield 3, f"{word} {channel.age_ms} ms"[: names + 6], style.rstrip("!")
        at = 9 + names
        if not channel.good and channel.arrived_us:
            yield at, fit(f"{channel.arrived_us} µs is not valid", width - at - 1), "warn"
        elif entry.source is not None and entry.switch is None:
            shape = entry.source.shape or "unshaped"
            words = f"stick {percent(entry.source.scaled).strip()} % ❯ {shape}"
            room = width - at - 1
            yield at, words if len(words) <= room else fit(f"❯ {shape}", room), "dim"
        elif entry.switch is not None and entry.switch.arms:
            yield at, fit("arms", width - at - 1), "dim"


def freshness(channel: ChannelView) -> tuple[str, str, str]:
    """Glyph, word and style for how young a channel's pulse is."""
    if channel.lost:
        return "○", "lost", "bad!"
    return ("◐", "gap", "warn!") if channel.missing else ("●", "fresh", "ok")


def positions(switch: SwitchView, at: int, room: int) -> Iterator[Piece]:
    """A switch's positions in a row, the present one in brackets; short of room, only that one."""
    long = " ".join(f" {name} " for name in switch.positions)
    if len(long) > room:
        here = f"[{switch.positions[switch.position]}]"
        count = f" {switch.position + 1}/{len(switch.positions)}"
        yield at, fit(here + count if len(here + count) <= room else here, room), "plus!"
        return
    for number, name in enumerate(switch.positions):
        chosen = number == switch.position
        yield at, f"[{name}]" if chosen else f" {name} ", "plus!" if chosen else "dim"
        at += len(name) + 3
