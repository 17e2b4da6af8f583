"""What the help page says of this screen now: the panel in focus, signs in sight, keys that do a thing."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from tui.bench.commands import Command, shown
from tui.bench.host import Host
from tui.dialogs.help import HelpPage, Section

MANY_SWITCHES = 3
"""From so many on, they stand in one line of the help."""


def show_help(screen: Host, groups: Mapping[str, Sequence[Command]]) -> None:
    """Everything about the panel in focus and about this screen, to read and to search."""
    panel = screen.panels[screen.bench.focus or "hands"]
    screen.app.push_screen(HelpPage(panel.title or "bench", sections(screen, groups)))


def sections(screen: Host, groups: Mapping[str, Sequence[Command]]) -> list[Section]:
    """The panel in focus first, then its keys, the signs of all panels in sight, and the bench's keys."""
    focus = screen.bench.focus or "hands"
    panel = screen.panels[focus]
    found = [Section("what it shows", text=panel.help.strip())]
    own = [command for command in screen.commands_now(own=True) if command.when(screen)]
    found.append(Section("keys in this panel", rows(own)))
    for name in dict.fromkeys((focus, *screen.places)):
        if name in screen.places:
            seen = screen.panels[name]
            found.append(Section(f"signs: {seen.title or NAMELESS.get(name, name)}", tuple(seen.signs)))
    taken = {key for command in own for key in command.keys}
    for heading, commands in groups.items():
        free = [each for each in commands if each.when(screen) and not taken.intersection(each.keys)]
        found.append(Section(f"keys: {heading}", rows(free)))
    return [section for section in found if section.rows or section.text]


NAMELESS = {"masthead": "the top line", "keys": "the last line"}


def rows(commands: Iterable[Command]) -> tuple[tuple[str, str], ...]:
    """One line a command: its keys and what it does; what another line covers has no words of its own."""
    return tuple(_gathered([(written(command), command.help) for command in commands if command.help]))


def _gathered(lines: Sequence[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Switches one to nine in a single line."""
    numbers = [key for key, _ in lines if key.isdigit() and key != "0"]
    for key, words in lines:
        if len(numbers) < MANY_SWITCHES or key not in numbers:
            yield key, words
        elif key == numbers[0]:
            yield f"{key} to {numbers[-1]}", "move that switch on"


def written(command: Command) -> str:
    """Its keys, as people write them."""
    return command.said or " ".join(shown(key) for key in command.keys)
