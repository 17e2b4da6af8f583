"""The event log: what happened, when, bounded in memory, saved when somebody wants it."""

import csv
import io
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

from mixer.files import write_file
from mixer.live.views.status import EventView

MOST_EVENTS = 5000


class EventLog:
    """The newest events, oldest first."""

    def __init__(self, most: int = MOST_EVENTS, tell: Callable[[EventView], None] | None = None) -> None:
        """`tell` is called with each event as it happens."""
        self._events: deque[EventView] = deque(maxlen=most)
        self._tell = tell
        self.count = 0
        """How many there have been, forgotten ones included."""

    def add(self, time_s: float, kind: str, words: str, level: str = "note") -> None:
        """Note something."""
        event = EventView(self.count, time_s, kind, level, words)
        self._events.append(event)
        self.count += 1
        if self._tell is not None:
            self._tell(event)

    def amend(self, words: str) -> None:
        """Say the newest event in other words: it has gone on."""
        self._events[-1] = replace(self._events[-1], words=words)

    def since(self, number: int) -> Sequence[EventView]:
        """Those from a number on, as far as they are still known."""
        first = self.count - len(self._events)
        return tuple(islice(self._events, max(number - first, 0), None))

    def newest(self, count: int) -> Sequence[EventView]:
        """The last so many, oldest first."""
        return self.since(self.count - count)

    def save(self, path: Path) -> None:
        """Write all known events as CSV: t_s, kind, level, what. Raises WriteError."""
        text = io.StringIO(newline="")
        writer = csv.writer(text, lineterminator="\r\n")
        writer.writerow(["t_s", "kind", "level", "what"])
        for event in self._events:
            writer.writerow([f"{event.time_s:.3f}", event.kind, event.level, event.words])
        write_file(path, text.getvalue())
