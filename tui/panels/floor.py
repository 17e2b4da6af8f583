"""The end of the way: the robot on the floor."""

from typing import ClassVar

from mixer.course.tasks.shapes import Pose
from mixer.live.views.snapshot import PhysicsView
from tui.drawing.floor import Tyre, View, floor_view, grid_step, heading_degrees, reach_of, scale_for
from tui.drawing.rows import Row, blank, fit, row_of, wrapped
from tui.panels.base import Panel

WORDY = 12
"""From so many rows on, the arrows are explained below the picture."""


class FloorPanel(Panel):
    """The robot from above, with what its wheels push and where it has been."""

    title: ClassVar[str] = "floor"
    letter: ClassVar[str] = "f"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
The robot from above. It needs motor, battery, chassis and wheel data in the profile. P powers the robot up
anew at the start."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("⣀⡠⠔⠒", "hull with a bright nose, wheels, and the line of where it has been"),
        ("arrows", "beside a wheel: the push of its tyre, blue the way the wheel points, amber against it"),
        ("yellow", "a wheel in yellow slips"),
        ("▲ 2 slip", "so many wheels slip now"),
        ("⠂  ⢀⣰⣀", "dots of the floor, as far apart as the title says; a cross every fourth"),
    )

    def on_mount(self) -> None:
        """No view yet: it is made when the size is known."""
        self._view = View(0.0, 0.0, 0.0)

    def note(self) -> str:
        """The distance between the dots."""
        return (
            f"dots {grid_step(self._view.scale):g} m"
            if self._view.scale and self.bench.snapshot.physics
            else ""
        )

    def seen(self) -> object:
        """The robot in tenths of a millimetre, milliradians and newtons."""
        physics = self.bench.snapshot.physics
        if physics is None:
            return False
        pose = round(physics.x_m, 4), round(physics.y_m, 4), round(physics.heading_rad, 3)
        return pose, tuple((round(wheel.force_n), wheel.slipping) for wheel in physics.wheels)

    def draw(self, width: int, height: int) -> list[Row]:
        """The picture, a line of numbers below it."""
        physics = self.bench.snapshot.physics
        if physics is None:
            return empty_floor(width, height)
        tyres = tyres_of(physics)
        pose = Pose(physics.x_m, physics.y_m, physics.heading_rad)
        words = 2 if height >= WORDY else 1
        scale = scale_for(tyres, width, height - words)
        self._view = View(self._view.x, self._view.y, scale).follow(
            pose, 1.2 * reach_of(tyres), width, height - words
        )
        rows = floor_view(pose, tyres, self.bench.snapshot.trail, self._view, width, height - words)
        slipping = sum(wheel.slipping for wheel in physics.wheels)
        pieces = [(1, f"{physics.speed_mps:+.2f} m/s", "text")]
        if width >= 30:
            pieces.append((12, f"{heading_degrees(physics.heading_rad)}°", "dim"))
        if width >= 40 + 10 * bool(slipping):
            pieces.append((18, f"turn {physics.turn_radps:+.1f} rad/s", "dim"))
        if slipping:
            said = f"▲ {slipping} slip"
            pieces.append((width - len(said) - 1, said, "warn!"))
        legend = row_of(width, [(1, fit("arrows: the push of each tyre", width - 2), "dim")])
        return [*rows, row_of(width, pieces), *[legend] * (words - 1)]


def tyres_of(physics: PhysicsView) -> list[Tyre]:
    """Wheels as the drawing wants them; pushes as shares of the strongest, 5 N at least."""
    most = max([5.0, *(abs(wheel.force_n) for wheel in physics.wheels)])
    return [
        Tyre(wheel.x_m, wheel.y_m, wheel.angle_rad, wheel.radius_m, wheel.force_n / most, wheel.slipping)
        for wheel in physics.wheels
    ]


def empty_floor(width: int, height: int) -> list[Row]:
    """What to add to see a robot here."""
    words = "no floor yet: give the profile [motor], [battery], [chassis] and [wheel] data"
    lines = wrapped(words, max(width - 4, 8))
    top = [blank(width) for _ in range(max(height // 2 - 1, 0))]
    return [*top, *(row_of(width, [(2, line, "dim")]) for line in lines)]
