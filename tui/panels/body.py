"""What hangs on the motors: actuators between their end stops, the battery, hot windings."""

from collections.abc import Iterator
from typing import ClassVar

from mixer.live.views.snapshot import ActuatorView, PhysicsView
from tui.drawing.gauges import charge_gauge, grade, limit_gauge, travel
from tui.drawing.rows import Row, apart, fit, row_of, row_with
from tui.panels.base import Panel


class BodyPanel(Panel):
    """Actuators, end stops, battery, heat."""

    title: ClassVar[str] = "body"
    letter: ClassVar[str] = "b"
    every: ClassVar[int] = 3
    help: ClassVar[str] = """\
Actuators between their end stops, the battery under load, and the hottest winding of each output against
what it stands. All of it needs data in the profile."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("█", "the nut of a screw, from in (left) to out (right)"),
        ("◇  ◆", "an end stop: open, closed"),
        ("[  ]", "an end without a switch that the firmware sees"),
        ("◆ at its stop", "the firmware blocks this direction: the end stop there is closed"),
        ("|◀  ▶|", "it blocks this direction: driven longer than its travel takes"),
        ("✕ both", "both end stops closed: one of them lies"),
        ("━━╸──", "charge left, or heat as a share of what the winding stands"),
        ("·  ▲  ✕", "heat: fine, from 85 per cent of the limit, above it"),
        ("✕ cut", "the low-voltage stop has cut the drives"),
    )

    def draw(self, width: int, height: int) -> list[Row]:
        """Actuators first, then battery, then heat as far as there is room."""
        view = self.bench.snapshot
        rows: list[Row] = []
        for actuator in view.actuators:
            rows += self._actuator(actuator, width)
        if view.physics is not None:
            rows += self._battery(view.physics, width)
            rows += list(self._heat(view.physics, width))[: max(height - len(rows), 0)]
        if len(rows) < height and any(actuator.out_stop or actuator.in_stop for actuator in view.actuators):
            rows.append(row_of(width, [(1, fit("end stops: ◇ open  ◆ closed", width - 2), "dim")]))
        if not rows:
            rows.append(
                row_of(
                    width,
                    [(2, fit("no actuators, no battery and motor data in this profile", width - 3), "dim")],
                )
            )
        return rows

    def _actuator(self, actuator: ActuatorView, width: int) -> Iterator[Row]:
        out_stop = actuator.out_closed if actuator.out_stop else None
        in_stop = actuator.in_closed if actuator.in_stop else None
        bar = max(width - 21, 6)
        words = (
            f"{actuator.position_mm:.0f} mm"
            if actuator.position_mm is not None
            else f"{actuator.position:.0%}"
        )
        pieces = [(1, fit(actuator.name, 11), "text"), (width - 7, words.rjust(6), "dim")]
        yield row_with(
            width, pieces, (13, travel(actuator.position, bar, in_closed=in_stop, out_closed=out_stop))
        )
        if actuator.fault:
            yield row_of(width, [(13, fit("✕ both end stops closed", width - 14), "bad")])
        elif actuator.blocked_in or actuator.blocked_out:
            yield row_of(width, [(13, fit(blocked_words(actuator), width - 14), "warn")])

    def _battery(self, physics: PhysicsView, width: int) -> Iterator[Row]:
        words = f"{physics.battery_v:5.2f} V {physics.battery_a:5.1f} A"
        cut = (" ✕ cut", "bad!") if physics.cut else ("", "dim")
        bar = max(width - 21, 6)
        yield row_with(
            width,
            [(1, "battery", "text"), (width - 7, f"{physics.charge:.0%}".rjust(6), "dim")],
            (13, charge_gauge(physics.charge, bar)),
        )
        yield row_of(width, [(13, words, "dim"), (13 + len(words), *cut)])

    def _heat(self, physics: PhysicsView, width: int) -> Iterator[Row]:
        names = apart([output.name for output in self.bench.snapshot.outputs], 11)
        for number, (heat, limit) in enumerate(
            zip(physics.winding_c, physics.winding_limit_c, strict=True)
        ):
            if heat is None or limit is None or number >= len(names):
                continue
            glyph, style = grade(heat / limit)
            words = f"{heat:.0f}/{limit:.0f} °C"
            pieces = [
                (1, names[number], "text"),
                (width - 13, glyph, style),
                (width - 11, words.rjust(10), "dim"),
            ]
            yield row_with(width, pieces, (13, limit_gauge(heat, limit, max(width - 28, 4))))


def blocked_words(actuator: ActuatorView) -> str:
    """Which direction is blocked, and why."""
    if actuator.blocked_in and actuator.blocked_out:
        return "|◀ ▶| both ways blocked"
    if actuator.blocked_in:
        return "◆ at its inner stop" if actuator.in_closed else "|◀ ran in too long"
    return "◆ at its outer stop" if actuator.out_closed else "▶| ran out too long"
