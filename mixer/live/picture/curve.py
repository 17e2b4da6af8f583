"""A stick's response: what its shape makes of every command, and where the stick is on it now."""

from dataclasses import dataclass
from functools import lru_cache

from mixer.core.ops import ONE
from mixer.core.plan import Plan, ShapePlan
from mixer.core.shape import shape
from mixer.core.signals import Signals
from mixer.errors import OptionError
from mixer.live.picture.picture import shape_in_use
from mixer.profile.schema.root import Robot
from mixer.runs.explain.steps import shape_number

POINTS = 101


Points = tuple[tuple[int, int], ...]
"""(scaled, shaped), from full back to full."""


@dataclass(frozen=True, slots=True)
class Response:
    """One stick's curve; commands are Q14, -ONE to ONE."""

    stick: str
    shape: str
    """Name of the shape in use; empty for a straight line."""
    points: Points
    live: tuple[int, int]
    """Where the stick is now."""
    others: tuple[tuple[str, Points], ...] = ()
    """The shapes that a switch would choose instead, each with its name."""


def response_of(plan: Plan, robot: Robot, stick: str, signals: Signals[int]) -> Response:
    """The curve of the shape in use, at `POINTS` commands evenly spread. Raises OptionError."""
    number = next((at for at, item in enumerate(plan.sticks) if item.name == stick), None)
    if number is None:
        names = ", ".join(item.name for item in plan.sticks)
        raise OptionError(f"there is no stick {stick!r}", f"one of {names}")
    found, now = plan.sticks[number], signals.sticks[number]
    bent, shapes = found.shapes[shape_number(found, signals)], robot.stick[stick].shape
    others: dict[str, Points] = {}
    if found.chooser is not None and not isinstance(shapes, str):
        positions = plan.switches[found.chooser].position_names
        for position, other in zip(positions, found.shapes, strict=True):
            if other != bent:
                others[shapes[position]] = _points(other)
    return Response(
        stick=stick,
        shape=shape_in_use(plan, robot, found, signals),
        points=_points(bent),
        live=(now.scaled, now.rated),
        others=tuple(others.items()),
    )


@lru_cache(maxsize=32)
def _points(bent: ShapePlan) -> Points:
    xs = [round(-ONE + 2 * ONE * at / (POINTS - 1)) for at in range(POINTS)]
    return tuple((x, int(shape(bent, x).rated)) for x in xs)
