"""The response of one stick: what deadband, expo and rate make of it, with the live point."""

from collections.abc import Callable, Sequence
from typing import ClassVar

from tui.bench.commands import Command
from tui.bench.state import percent, share
from tui.drawing.curve import Points, response
from tui.drawing.rows import Row, blank, fit, row_of
from tui.panels.base import Panel


def _turn(by: int) -> Callable[["CurvePanel"], None]:
    def run(panel: "CurvePanel") -> None:
        names = [stick.name for stick in panel.bench.sticks]
        if names:
            panel.bench.looking.stick = names[(names.index(panel.bench.stick) + by) % len(names)]

    return run


class CurvePanel(Panel):
    """The response curve."""

    title: ClassVar[str] = "response"
    letter: ClassVar[str] = "c"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
What the shape in use makes of one stick: its travel from left to right, the command from bottom to top.
The lines beneath are the shapes that a switch would choose instead.

The flat part in the middle is the deadband, expo bends the curve so that small movements stay small, rate
lowers its ends. ← and → choose the stick; change the shape with t (tune), section shape.NAME."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("⠤⠒⠉", "the response; the dotted line would be no shape at all"),
        ("⢾⡷", "where the stick is now"),
        ("❯", "from the stick's travel to the command it gives"),
    )
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("left",), "stick_before", "stick", "the stick before", _turn(-1)),
        Command(("right",), "stick_after", "stick", "the next stick", _turn(1)),
    )

    def note(self) -> str:
        """Which stick and which shape."""
        source = next((stick for stick in self.bench.sticks if stick.name == self.bench.stick), None)
        if source is None:
            return ""
        return f"{source.name} ❯ {source.shape or 'unshaped'}"

    def seen(self) -> object:
        """Where the stick is on its curve."""
        return self.bench.snapshot.plan_revision, self.bench.stick, self.bench.sticks

    def draw(self, width: int, height: int) -> list[Row]:
        """The curve and a line of numbers."""
        name = self.bench.stick
        source = next((stick for stick in self.bench.sticks if stick.name == name), None)
        if source is None:
            return [row_of(width, [(2, "this robot has no stick", "dim")])]
        if width < 4 or height < 2:
            return [blank(width)]
        points, others = self._curves(name, source.shape)
        live = share(source.scaled), share(source.shaped)
        rows = response(points, live, width - 2, height - 1, others)
        words = f"{percent(source.scaled).strip()} % ❯ {percent(source.shaped).strip()} %"
        framed = [((" ", "text"), *row, (" ", "text")) for row in rows]
        return [*framed, row_of(width, [(2, fit(words, width - 3), "text")])]

    def _curves(self, name: str, shape: str) -> tuple[Points, Sequence[tuple[str, Points]]]:
        """Of the shape in use and of the others; asked for once for each plan, stick and shape."""
        key = (self.bench.snapshot.plan_revision, name, shape)
        known = getattr(self, "_known", None)
        if known is None or known[0] != key:
            curve = self.bench.session.curve(name)
            others = [(other or "straight", shares(points)) for other, points in curve.others]
            known = self._known = key, (shares(curve.points), others)
        return known[1]


def shares(points: Sequence[tuple[int, int]]) -> Points:
    """Q14 numbers as shares of full."""
    return [(share(x), share(y)) for x, y in points]
