"""The help page of a panel: what it shows, its own keys, the bench's keys."""

from collections.abc import Iterable

from tui.bench.commands import Command, shown
from tui.bench.host import Host
from tui.dialogs.windows import Page


def show_help(screen: Host) -> None:
    """Everything about the panel in focus, to read."""
    panel = screen.panels[screen.bench.focus or "hands"]
    own = screen.commands_now(own=True)
    parts = [panel.help.strip()]
    if own:
        parts.append(f"keys here\n{key_table(own)}")
    rest = [command for command in screen.commands_now() if command not in own]
    parts.append(f"keys everywhere\n{key_table(rest)}")
    screen.app.push_screen(Page(panel.title or "bench", "\n\n".join(parts)))


def key_table(commands: Iterable[Command]) -> str:
    """One line a command: its keys and what it does."""
    rows = [(_keys(command), command.help) for command in commands]
    width = max((len(keys) for keys, _ in rows), default=0)
    return "\n".join(f"  {keys.ljust(width)}  {words}" for keys, words in rows)


def _keys(command: Command) -> str:
    return command.said or " ".join(shown(key) for key in command.keys)
