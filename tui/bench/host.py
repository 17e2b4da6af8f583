"""What panels, keys and dialogs may ask of the screen they stand on."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, Protocol

from textual.app import App
from textual.geometry import Size

from tui.bench.commands import Command
from tui.bench.layout import Places
from tui.bench.state import Bench


class Explained(Protocol):
    """A panel, as far as its help goes."""

    title: ClassVar[str]
    help: ClassVar[str]
    signs: ClassVar[tuple[tuple[str, str], ...]]


class Host(Protocol):
    """The bench's screen, seen from what stands on it."""

    bench: Bench
    places: Places

    @property
    def panels(self) -> Mapping[str, Explained]:
        """Every panel by its name."""

    @property
    def size(self) -> Size:
        """Columns and rows."""

    @property
    def app(self) -> App[Any]:
        """The running program."""

    def paint_all(self) -> None:
        """Show at once what was just done."""

    def settle(self) -> None:
        """Put the panels in their places."""

    def open_drawer(self, name: str) -> None:
        """Open a drawer and focus it; empty closes."""

    def cycle_switch(self, name: str) -> None:
        """Move a switch on by hand."""

    def hold_stick(self, name: str, direction: int) -> None:
        """A key holds a stick."""

    def commands_now(self, *, own: bool = False) -> Sequence[Command]:
        """What keys do now, or in the focused panel alone."""

    def run_command(self, command: Command) -> None:
        """Do it."""
