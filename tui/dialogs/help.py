"""The help page: sections of signs, keys and what they mean, narrowed down by typing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from mixer.text import visible
from tui.drawing.rows import wrapped

WIDEST_KEY = 16
SCROLLS = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}


@dataclass(frozen=True, slots=True)
class Section:
    """One group of the help."""

    heading: str
    rows: tuple[tuple[str, str], ...] = ()
    """A sign or a key, and what it means."""
    text: str = ""
    """Words instead of rows."""

    def with_words(self, wanted: Sequence[str]) -> "Section":
        """What of it has all these words, in small letters, in heading or line."""

        def has(text: str) -> bool:
            said = f"{self.heading} {text}".lower()
            return all(word in said for word in wanted)

        parts = [part for part in self.text.split("\n\n") if has(part)]
        return Section(
            self.heading, tuple(row for row in self.rows if has(" ".join(row))), "\n\n".join(parts)
        )


class HelpPage(ModalScreen[None]):
    """Help to read; letters typed search in it, escape takes them back and then closes."""

    BINDINGS: ClassVar = [Binding("f1", "leave", "close")]

    def __init__(self, title: str, sections: Sequence[Section]) -> None:
        super().__init__()
        self._title, self._sections = title, tuple(sections)

    def compose(self) -> ComposeResult:
        """Title, a line to search in, the text."""
        with Vertical(classes="sheet page"):
            yield Static(visible(self._title), classes="sheet-title", markup=False)
            yield Input(placeholder="type to search, ↑ ↓ to read on, esc to go back", classes="search")
            with VerticalScroll(can_focus=False):
                yield Static(id="found", markup=False)

    def on_mount(self) -> None:
        """All of it."""
        self.call_after_refresh(self._show)

    def on_resize(self) -> None:
        """Lines are broken anew."""
        self.call_after_refresh(self._show)

    def on_input_changed(self) -> None:
        """What has the words typed."""
        self._show()

    def on_key(self, event: events.Key) -> None:
        """Up and down read on; escape and enter go back a step."""
        searching = self.query_one(Input)
        if event.key in SCROLLS:
            self.query_one(VerticalScroll).scroll_relative(y=SCROLLS[event.key], animate=False)
        elif event.key in ("escape", "enter") and searching.value and event.key == "escape":
            searching.value = ""
        elif event.key in ("escape", "enter"):
            self.dismiss(None)
        else:
            return
        event.stop()
        event.prevent_default()

    def action_leave(self) -> None:
        """Back to the bench."""
        self.dismiss(None)

    def shown(self) -> list[Section]:
        """What the words typed leave."""
        wanted = self.query_one(Input).value.lower().split()
        left = [section.with_words(wanted) for section in self._sections]
        return [section for section in left if section.rows or section.text]

    def _show(self) -> None:
        found = self.query_one("#found", Static)
        sections = self.shown()
        width = max(found.size.width, 20)
        found.update(
            laid_out(sections, width, self.app.theme_variables) if sections else "nothing has these words"
        )


def laid_out(sections: Sequence[Section], width: int, inks: dict[str, str]) -> Text:
    """Headings, signs and keys in a column of their own, words broken beside it."""
    text = Text()
    for section in sections:
        text.append(f"{section.heading}\n", f"bold {inks['sw-head']}")
        for number, part in enumerate(section.text.split("\n\n") if section.text else ()):
            lines = [""] * bool(number) + wrapped(visible(part, "\n"), width)
            text.append("".join(f"{line}\n" for line in lines), inks["sw-text"])
        column = min(max((len(key) for key, _ in section.rows), default=0), WIDEST_KEY) + 3
        for key, words in section.rows:
            lines = wrapped(visible(words), max(width - column, 10))
            text.append(f"  {visible(key).ljust(column - 2)}", inks["sw-accent"])
            text.append(f"{lines[0]}\n", inks["sw-text"])
            for line in lines[1:]:
                text.append(f"{' ' * column}{line}\n", inks["sw-text"])
        text.append("\n")
    return text
