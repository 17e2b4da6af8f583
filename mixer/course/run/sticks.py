"""What hands do in a run: which sticks drive, and how often one is corrected."""

from collections.abc import Sequence

from mixer.core.plan import Plan
from mixer.plant.parts.robot import Robot


def driving_sticks(plan: Plan, robot: Robot) -> tuple[int, ...]:
    """The places of the sticks that a wheel listens to."""
    outputs = {wheel.output for wheel in robot.wheels if wheel.output >= 0}
    return tuple(
        source
        for source in range(len(plan.sticks))
        if any(plan.outputs[output].weights[source] for output in outputs)
    )


def reversals(values: Sequence[float], gap: float) -> int:
    """How often the direction of a movement turns round, counting only ways of `gap` or more.

    The reversal rate of a control with a least angle of movement: W. A. Macdonald and E. R. Hoffmann,
    "Review of relationships between steering wheel reversal rate and driving task demand", Human Factors 22
    (1980) 733-739.
    """
    count = direction = 0
    turned = values[0] if values else 0.0
    low = high = turned
    for value in values:
        if direction >= 0:
            high = max(high, value)
        if direction <= 0:
            low = min(low, value)
        if direction >= 0 and high - value >= gap:
            count, direction, low = count + (direction > 0), -1, value
        elif direction <= 0 and value - low >= gap:
            count, direction, high = count + (direction < 0), 1, value
    return count
