"""The transport of a replayed log: where we are, its events, speed."""

from collections.abc import Callable, Iterator
from typing import ClassVar

from textual import events

from tui.bench.commands import Command
from tui.drawing.rows import Piece, Row, fit, plain, row_of
from tui.panels.base import Panel


def _seek(by: float) -> Callable[["TransportPanel"], None]:
    def run(panel: "TransportPanel") -> None:
        replay = panel.bench.session.replay
        if replay is not None:
            replay.seek(min(max(panel.bench.snapshot.transport.position_s + by, 0.0), replay.length_s))

    return run


class TransportPanel(Panel):
    """A bar over the log's time, to click and drag."""

    title: ClassVar[str] = "replay"
    letter: ClassVar[str] = "y"
    headed: ClassVar[bool] = False
    help: ClassVar[str] = """\
A recorded log drives the robot. space plays and pauses; . and , go one tick on and back; ← and → five
seconds, with shift half a second; < and > change the speed, 0.1 to 20 times; n and N jump to the next and
the last event. Click or drag on the bar to go anywhere. M changes over to the hands and back."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("▶  ‖  ■", "it plays, is paused, has ended"),
        ("♦", "an event: a guard that changed, a loss, a veto"),
        ("━━█──", "how far it has come"),
        ("×2", "how many times its own speed"),
    )
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("left",), "back", "back 5 s", "five seconds back", _seek(-5)),
        Command(("right",), "on", "on 5 s", "five seconds on", _seek(5)),
        Command(("shift+left",), "back_little", "", "half a second back", _seek(-0.5), 0),
        Command(("shift+right",), "on_little", "", "half a second on", _seek(0.5), 0),
        Command(("home",), "start", "start", "to the start", _seek(-1e9)),
        Command(("end",), "end", "", "to the end", _seek(1e9), 0),
    )

    def on_mount(self) -> None:
        """Nobody drags."""
        self._dragging = False

    def draw(self, width: int, height: int) -> list[Row]:
        """One row, or two with the log's name."""
        moving = self.bench.snapshot.transport
        state = "■ ended" if moving.ended else "▶ plays" if moving.playing else "‖ paused"
        head = f"{'▸' if self.has_focus else ' '} {state} ×{moving.speed:g} "
        tail = f" {moving.position_s:.2f} of {moving.length_s:.2f} s "
        bar = self._bar(width)
        pieces: list[Piece] = [(0, head[:16].ljust(16), "accent!" if self.has_focus else "head!")]
        pieces += self._drawn_bar(bar)
        pieces.append((16 + bar, tail.rjust(width - 16 - bar), "text"))
        rows = [row_of(width, pieces)]
        if height > 1:
            replay = self.bench.session.replay
            words = f"{plain(moving.log)}   {len(replay.events_s) if replay else 0} events"
            rows.append(row_of(width, [(16, fit(words, width - 17), "dim")]))
        return rows

    def _drawn_bar(self, bar: int) -> Iterator[Piece]:
        moving = self.bench.snapshot.transport
        done = round(bar * moving.position_s / moving.length_s) if moving.length_s else 0
        here = min(done, bar - 1)
        marks = self._marks(bar, moving.length_s)
        for place in range(bar):
            if place == here:
                yield 16 + place, "█", "live!"
            elif place in marks:
                yield 16 + place, "♦", "warn!"
            else:
                yield 16 + place, *(("━", "plus") if place < done else ("─", "faint"))

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Go there."""
        self._dragging = True
        self.capture_mouse()
        self._go(event.x)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Scrub."""
        if self._dragging:
            self._go(event.x)

    def on_mouse_up(self) -> None:
        """Let go."""
        self._dragging = False
        self.release_mouse()

    def _bar(self, width: int) -> int:
        return max(width - 16 - 22, 4)

    def _go(self, column: int) -> None:
        replay = self.bench.session.replay
        if replay is not None:
            share = (column - 16) / max(self._bar(self.size.width) - 1, 1)
            replay.seek(min(max(share, 0.0), 1.0) * replay.length_s)

    def _marks(self, bar: int, length_s: float) -> set[int]:
        replay = self.bench.session.replay
        if replay is None or not length_s:
            return set()
        return {min(int(bar * at / length_s), bar - 1) for at in replay.events_s}
