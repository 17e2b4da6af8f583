"""Driving a plant by duties: which of them drive which way."""

from collections.abc import Sequence

from mixer.plant.parts.robot import Robot
from mixer.plant.plant import Plant, PlantSnapshot
from mixer.plant.step.motion import driving_direction


def duties_for(robot: Robot, forward: float, left: float, turn: float) -> list[float]:
    """One duty an output for a direction of motion, the largest at full.

    Each output gets the mean speed its wheels have in that motion (`turn` in rad/s about the middle).
    Outputs without wheels get 0.
    """
    speeds = []
    for index in range(len(robot.outputs)):
        ways = [driving_direction(wheel) for wheel in robot.wheels if wheel.output == index]
        total = sum(way.x * forward + way.y * left + way.arm * turn for way in ways)
        speeds.append(total / len(ways) if ways else 0.0)
    most = max((abs(speed) for speed in speeds), default=0.0)
    return [speed / most if most > 1e-9 else 0.0 for speed in speeds]


def step_duties(plant: Plant, duties: Sequence[float], seconds: float) -> PlantSnapshot:
    """Apply duties for a time, and see what is then."""
    plant.run_duties(duties, seconds)
    return plant.snapshot()
