"""Which outputs and sticks of a robot do what: found from its wheels, or from the signs of its mix."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mixer.profile.schema.outputs import Output
from mixer.profile.schema.root import Robot

LEAST = 0.1
"""A stick drives or turns by at least this share of its weights; less is what is left of a sideways one."""
MINDED = 0.5
"""Without wheels: a stick that moves outputs alike by this share of all its weights drives ahead."""


@dataclass(frozen=True, slots=True)
class Roles:
    """Names of outputs and sticks by what they do; each empty where the robot has none."""

    drives: tuple[str, ...]
    """Outputs that move the robot over the floor."""
    left: tuple[str, ...]
    """Those of them on the left side, and on the right."""
    right: tuple[str, ...]
    tools: tuple[str, ...]
    """Outputs of actuators."""
    ahead: tuple[str, ...]
    """Sticks that drive ahead and back, those that turn, and those that move actuators."""
    around: tuple[str, ...]
    handling: tuple[str, ...]
    turns_right: Mapping[str, bool]
    """Of the sticks that turn: whether a positive command turns to the right."""


def roles_of(robot: Robot) -> Roles:
    """Worked out from a checked robot."""
    tools = {actuator.output for actuator in robot.actuator.values()}
    turning = {wheel.output for wheel in robot.wheel.values()} & robot.output.keys()
    drives = {
        name: output
        for name, output in robot.output.items()
        if name in (turning or robot.output.keys() - tools)
    }
    handling = {source for name in tools & robot.output.keys() for source in robot.output[name].mix}
    ahead, around = [], {}
    for stick in robot.stick:
        along, about = _shares(robot, drives, stick)
        weights = sum(abs(output.mix.get(stick, 0.0)) for output in drives.values())
        if max(abs(along), abs(about)) <= LEAST * weights:
            continue
        if abs(along) >= abs(about):
            ahead.append(stick)
        else:
            around[stick] = about < 0
    return Roles(
        tuple(drives), _side(robot, drives, "left"), _side(robot, drives, "right"),
        tuple(name for name in robot.output if name in tools and name not in drives),
        tuple(ahead), tuple(around),
        tuple(stick for stick in robot.stick if stick in handling and stick not in (*ahead, *around)),
        around,
    )  # fmt: skip


def shapes_of(robot: Robot, sticks: Sequence[str]) -> tuple[str, ...]:
    """The shapes, of those the profile describes, that these sticks are ever bent by."""
    found: dict[str, None] = {}
    for stick in sticks:
        choice = robot.stick[stick].shape
        names = [choice] if isinstance(choice, str) else [choice[key] for key in choice if key != "switch"]
        found |= dict.fromkeys(name for name in names if name in robot.shape)
    return tuple(found)


def _shares(robot: Robot, drives: Mapping[str, Output], stick: str) -> tuple[float, float]:
    """How much of a stick drives ahead, and how much turns to the left."""
    wheels = [wheel for wheel in robot.wheel.values() if wheel.output in drives]
    if not wheels:
        weights = [output.mix.get(stick, 0.0) for output in drives.values()]
        whole, alike = sum(map(abs, weights)), sum(weights)
        return (alike, 0.0) if abs(alike) >= MINDED * whole else (0.0, -_leaning(drives, stick))
    along = about = size = 0.0
    for wheel in wheels:
        weight, angle = drives[wheel.output or ""].mix.get(stick, 0.0), math.radians(wheel.angle_deg)
        along += weight * math.cos(angle)
        about += weight * (wheel.x_m * math.sin(angle) - wheel.y_m * math.cos(angle))
        size = max(size, math.hypot(wheel.x_m, wheel.y_m))
    return along, about / (size or 1.0)


def _leaning(drives: Mapping[str, Output], stick: str) -> float:
    """Without wheels: positive where outputs of the left side, or the first ones, get more."""
    given = [
        output.mix.get(stick, 0.0) * (-1.0 if output.side == "right" or name.startswith("right") else 1.0)
        for name, output in drives.items()
    ]
    return sum(given) or given[0]


def _side(robot: Robot, drives: Mapping[str, Output], side: str) -> tuple[str, ...]:
    """Outputs of a side: by their wheels' places, else as the profile says, else by their names."""
    sign = 1.0 if side == "left" else -1.0
    places: dict[str, float] = {}
    for wheel in robot.wheel.values():
        name, along = wheel.output or "", math.cos(math.radians(wheel.angle_deg))
        if name in drives and abs(along) > MINDED:
            places[name] = places.get(name, 0.0) + wheel.y_m
    if places:
        return tuple(name for name in drives if sign * places.get(name, 0.0) > 0)
    return tuple(
        name
        for name, output in drives.items()
        if output.side == side or (output.side is None and name.startswith(side))
    )
