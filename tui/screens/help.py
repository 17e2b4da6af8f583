"""The help page of a panel: what it shows, its own keys, the bench's keys."""

from collections.abc import Iterable, Sequence

from tui.bench.commands import Command, shown
from tui.dialogs.windows import Page
from tui.panels.base import Panel


def help_page(panel: Panel, bench_commands: Sequence[Command]) -> Page:
    """Everything about one panel, to read."""
    parts = [panel.help.strip()]
    if panel.commands:
        parts.append(f"keys here\n{key_table(panel.commands)}")
    parts.append(f"keys everywhere\n{key_table(bench_commands)}")
    return Page(panel.title or "bench", "\n\n".join(parts))


def key_table(commands: Iterable[Command]) -> str:
    """One line a command: its keys and what it does."""
    rows = [(_keys(command), command.help) for command in commands]
    width = max((len(keys) for keys, _ in rows), default=0)
    return "\n".join(f"  {keys.ljust(width)}  {words}" for keys, words in rows)


def _keys(command: Command) -> str:
    return command.said or " ".join(shown(key) for key in command.keys)
