"""Asking for a file and doing something with it."""

from collections.abc import Callable
from pathlib import Path

from tui.bench.host import Host
from tui.dialogs.windows import AskText


def ask_file(
    screen: Host, title: str, words: str, proposed: str, work: Callable[[Path], object], done: str
) -> None:
    """Ask for the name of a file and do something with it; what was done is told, or why it was not."""

    def typed(name: str | None) -> None:
        if name:
            path = Path(name).expanduser()
            if screen.bench.attempt(lambda: (work(path),)):
                screen.bench.say(f"{done}: {path}")
            screen.paint_all()

    screen.app.push_screen(AskText(title, words, proposed), typed)
