"""A stick's response: what its shape makes of every command, and where the stick is on it now."""

from collections.abc import Mapping
from dataclasses import dataclass

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.core.shape import shape as bend
from mixer.errors import OptionError
from mixer.live.picture.picture import shape_in_use
from mixer.profile.schema.root import Robot


@dataclass(frozen=True, slots=True)
class Response:
    """One stick's curve; commands are Q14, -FULL to FULL."""

    stick: str
    shape: str
    """Name of the shape in use; empty for a straight line."""
    points: tuple[tuple[int, int], ...]
    """(scaled, shaped), from full back to full."""
    live: tuple[int, int]
    """Where the stick is now."""


def response_of(plan: Plan, robot: Robot, stick: str, signals: Mapping[str, int], points: int) -> Response:
    """The curve of the shape in use, at `points` commands evenly spread. Raises OptionError."""
    found = next((item for item in plan.sticks if item.name == stick), None)
    if found is None:
        names = ", ".join(item.name for item in plan.sticks)
        raise OptionError(f"there is no stick {stick!r}", f"one of {names}")
    number = 0
    if found.chooser is not None:
        position = signals[f"switch.{plan.switches[found.chooser].name}.position"]
        number = min(position, len(found.shapes) - 1)
    xs = [round(-ONE + 2 * ONE * at / max(points - 1, 1)) for at in range(points)]
    return Response(
        stick=stick,
        shape=shape_in_use(plan, robot, stick, signals),
        points=tuple((x, int(bend(found.shapes[number], x).rated)) for x in xs),
        live=(signals[f"stick.{stick}.scaled"], signals[f"stick.{stick}.rated"]),
    )
