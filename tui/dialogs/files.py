"""Asking for a file and doing something with it."""

from collections.abc import Callable
from pathlib import Path

from tui.bench.host import Host
from tui.dialogs.windows import AskText


def ask_file(screen: Host, title: str, words: str, proposed: str, work: Callable[[Path], object]) -> None:
    """Ask for the name of a file and do something with it; a refusal is told."""

    def typed(name: str | None) -> None:
        if name:
            screen.bench.attempt(lambda: work(Path(name).expanduser()))
            screen.paint_all()

    screen.app.push_screen(AskText(title, words, proposed), typed)
