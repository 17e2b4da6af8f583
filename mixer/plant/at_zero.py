"""What the controllers of the wheels do at zero: as the profile says, or both ways where it does not.

`size`, the fail-safe campaign and the sheet print what is decided here: a word beside each number, and both
numbers side by side where nobody knows.
"""

from collections.abc import Collection
from dataclasses import replace
from typing import NamedTuple

from mixer.plant.parts.robot import Robot

BRAKING, COASTING, MIXED = "braking", "coasting", "mixed"
WORDS = (BRAKING, COASTING, MIXED)


class AtZero(NamedTuple):
    """One thing the controllers may do, and the robot that does it."""

    word: str
    robot: Robot


def at_zero(robot: Robot, unsaid: Collection[str]) -> tuple[AtZero, ...]:
    """The robot as it is said to be; braking and coasting where these outputs do not say."""
    bodies = (with_brakes(robot, unsaid, brakes=brakes) for brakes in (True, False)) if unsaid else (robot,)
    said = tuple(AtZero(_word(body), body) for body in bodies)
    if len(said) == 1 or said[0].word != said[1].word:
        return said
    return AtZero(BRAKING, said[0].robot), AtZero(COASTING, said[1].robot)


def with_brakes(robot: Robot, outputs: Collection[str], *, brakes: bool) -> Robot:
    """The robot with these controllers braking, or coasting, at zero."""
    changed = (
        replace(output, driver=replace(output.driver, brakes=brakes)) if output.name in outputs else output
        for output in robot.outputs
    )
    return replace(robot, outputs=tuple(changed))


def _word(robot: Robot) -> str:
    brakes = {robot.outputs[wheel.output].driver.brakes for wheel in robot.wheels if wheel.output >= 0}
    return MIXED if len(brakes) > 1 else BRAKING if True in brakes else COASTING
