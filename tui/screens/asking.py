"""Asking for a file and doing something with it."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from tui.screens.dialogs import AskText

if TYPE_CHECKING:
    from tui.screens.bench import BenchScreen


def ask_file(
    screen: "BenchScreen", title: str, words: str, proposed: str, work: Callable[[Path], object]
) -> None:
    """Ask for the name of a file and do something with it; a refusal is told."""

    def typed(name: str | None) -> None:
        if name:
            screen.bench.attempt(lambda: work(Path(name).expanduser()))
            screen.paint_all()

    screen.app.push_screen(AskText(title, words, proposed), typed)
