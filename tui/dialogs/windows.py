"""Questions and pages that stand before the bench until they are answered."""

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Static

from mixer.text import visible
from tui.dialogs.paths import completed

LISTED = 12
"""Names that tab lists below the line."""

Choice = tuple[str, str]
"""What is answered, and what the button says."""


class Ask(ModalScreen[str]):
    """A question with buttons; the first is taken with enter, the last with escape."""

    BINDINGS: ClassVar = [Binding("escape", "last", "leave it")]

    def __init__(self, title: str, words: str, choices: Sequence[Choice]) -> None:
        super().__init__()
        self._title, self._words, self._choices = title, words, tuple(choices)

    def compose(self) -> ComposeResult:
        """Title, words, buttons."""
        with Vertical(classes="sheet"):
            yield Static(visible(self._title), classes="sheet-title", markup=False)
            with VerticalScroll(can_focus=False, classes="words"):
                yield Static(visible(self._words, "\n"), markup=False)
            for answer, label in self._choices:
                yield Button(label, id=f"answer-{answer}")

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """That is the answer."""
        self.dismiss((event.button.id or "").removeprefix("answer-"))

    def action_last(self) -> None:
        """The careful answer."""
        self.dismiss(self._choices[-1][0])

    def on_key(self, event: Key) -> None:
        """Up and down walk over the buttons, page up and down over words that are too many to show."""
        if event.key in ("pageup", "pagedown"):
            way = -5 if event.key == "pageup" else 5
            self.query_one(VerticalScroll).scroll_relative(y=way, animate=False)
            event.stop()
        if event.key in ("up", "down"):
            (self.focus_previous if event.key == "up" else self.focus_next)()
            event.stop()


class AskText(ModalScreen[str]):
    """A question for a file's name, answered by typing; tab completes. Empty when nothing is wanted."""

    BINDINGS: ClassVar = [
        Binding("escape", "leave", "leave it"),
        Binding("tab", "complete", "complete", priority=True),
    ]

    def __init__(self, title: str, words: str, proposed: str) -> None:
        super().__init__()
        self._title, self._words, self._proposed = title, words, proposed

    def compose(self) -> ComposeResult:
        """Title, words and a line to type in; below it, what tab has found."""
        with Vertical(classes="sheet"):
            yield Static(visible(self._title), classes="sheet-title", markup=False)
            yield Static(visible(self._words, "\n"), markup=False)
            yield Input(self._proposed, id="typed")
            yield Static("tab completes, enter takes it, esc leaves it", id="fitting", markup=False)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter takes it."""
        self.dismiss(event.value.strip())

    def action_complete(self) -> None:
        """As far as only one way leads on; where several do, they are listed."""
        typed = self.query_one("#typed", Input)
        done = completed(typed.value)
        typed.value = done.text
        typed.cursor_position = len(done.text)
        listed = "  ".join(done.names[:LISTED]) + ("  ..." if len(done.names) > LISTED else "")
        self.query_one("#fitting", Static).update(visible(listed) or "nothing there begins like that")

    def action_leave(self) -> None:
        """Nothing is wanted."""
        self.dismiss("")
