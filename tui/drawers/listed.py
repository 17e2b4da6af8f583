"""A list with a cursor: as much of it as fits is in sight, and below it stands what there is to say."""

from collections.abc import Callable, Sequence

from textual import events

from tui.bench.state import Bench
from tui.drawing.rows import Row, row_of
from tui.panels.base import Panel
from tui.styles.palette import Palette


class ListPanel(Panel):
    """A panel with such a list. Subclasses say how long it is, and draw an entry."""

    def __init__(self, bench: Bench, palette: Palette) -> None:
        super().__init__(bench, palette)
        self.at = 0
        """The entry that is looked at."""
        self.sight = range(0)
        """The entries that were drawn last."""

    @property
    def count(self) -> int:
        """How many entries there are."""
        raise NotImplementedError

    def move(self, by: int) -> None:
        """Look at another one."""
        self.at = min(max(self.at + by, 0), max(self.count - 1, 0))

    def listed(self, line: Callable[[int], Row], foot: Sequence[Row], width: int, height: int) -> list[Row]:
        """A row for each entry in sight, the one looked at always among them, down to the foot."""
        room = max(height - len(foot), 1)
        top = min(max(self.sight.start, self.at - room + 1), self.at)
        self.sight = range(top, min(top + room, self.count))
        rows = [line(number) for number in self.sight]
        return [*rows, *([row_of(width, [])] * (room - len(rows))), *foot]

    def clicked(self, event: events.Click) -> bool:
        """Whether a click was on an entry, which is then looked at."""
        number = self.sight.start + event.y - 1
        if number not in self.sight or event.y < 1:
            return False
        self.at = number
        return True


def moving(by: int) -> Callable[[ListPanel], None]:
    """The work of a key that moves the cursor."""
    return lambda panel: panel.move(by)


def rule(width: int) -> Row:
    """The line between the list and what is below it."""
    return row_of(width, [(1, "─" * (width - 2), "faint")])
