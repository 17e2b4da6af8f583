"""The diary: which rules hold, what is broken on purpose, and everything that happened, with times."""

from collections.abc import Callable, Iterator, Mapping
from typing import ClassVar

from mixer.live.views.status import EventView
from tui.bench.commands import Command
from tui.drawing.rows import Row, fit, plain, row_of
from tui.panels.base import Panel

LEVELS: Mapping[str, tuple[str, str]] = {"note": ("·", "dim"), "warn": ("▲", "warn"), "bad": ("✕", "bad")}


def _scroll(by: int) -> Callable[["DiaryPanel"], None]:
    def run(panel: "DiaryPanel") -> None:
        panel.back = min(max(panel.back + by, 0), max(panel.bench.snapshot.event_count - 1, 0))

    return run


class DiaryPanel(Panel):
    """Rules, faults and events."""

    title: ClassVar[str] = "diary"
    letter: ClassVar[str] = "d"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
The first line watches the rules that must hold for every robot: nothing moves before arming, everything
stops after a loss, no closed end stop is driven into, and so on. It says so at once when one is broken.

Below, the newest event first. ↑ and ↓ leaf back; E writes all events to a file. Break something with b and
watch."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("·  ▲  ✕", "a note, a warning, something bad"),
        ("✓", "no rule has been broken so far"),
        ("▲ broken", "broken on purpose"),
    )
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("down",), "older", "older", "older events", _scroll(1)),
        Command(("up",), "newer", "newer", "newer events", _scroll(-1)),
        Command(("pagedown",), "much_older", "", "ten events back", _scroll(10), 0),
        Command(("pageup",), "much_newer", "", "ten events forward", _scroll(-10), 0),
        Command(("home",), "newest", "newest", "the newest event", _scroll(-(10**9)), 0),
    )

    def on_mount(self) -> None:
        """At the newest."""
        self.back = 0

    def note(self) -> str:
        """How many events."""
        return f"{self.bench.snapshot.event_count} events"

    def draw(self, width: int, height: int) -> list[Row]:
        """Rules, faults, then events, newest first."""
        view = self.bench.snapshot
        rows = list(self._rules(width))
        for key in view.faults:
            words = self.bench.session.faults.words(key)
            rows.append(row_of(width, [(1, "▲", "warn!"), (3, fit(f"broken: {words}", width - 4), "warn")]))
        newest = self.bench.session.events.newest(self.back + max(height - len(rows), 1))
        shown = sorted(newest, key=lambda event: -event.number)[self.back :]
        return rows + [event_row(event, width) for event in shown]

    def _rules(self, width: int) -> Iterator[Row]:
        rules = self.bench.snapshot.rules
        if not rules:
            yield row_of(width, [(1, "✓", "ok!"), (3, fit("no rule broken so far", width - 4), "ok")])
        for rule in rules:
            mark = ("✕", "bad!") if rule.now else ("▲", "warn!")
            said = "broken now" if rule.now else "was broken"
            words = f"rule {said} ({rule.count} ticks): {rule.words}"
            yield row_of(width, [(1, *mark), (3, fit(words, width - 4), mark[1].rstrip("!"))])


def event_row(event: EventView, width: int) -> Row:
    """Time, glyph, words."""
    glyph, style = LEVELS.get(event.level, ("·", "dim"))
    return row_of(
        width,
        [
            (1, f"{event.time_s:8.2f}", "dim"),
            (10, glyph, f"{style}!"),
            (12, fit(plain(event.words), width - 13), "text" if event.level == "note" else style),
        ],
    )
