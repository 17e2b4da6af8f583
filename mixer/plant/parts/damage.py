"""A robot with something broken, its state laid out as before: to go on with while it runs.

Disconnected and stalled are opposites: a motor without current lets its wheel roll and drags at it, a
seized one holds its wheel and draws what a stall draws. A controller that is stuck on does not listen.
"""

from collections.abc import Iterable
from dataclasses import replace
from enum import Enum
from typing import NamedTuple

from mixer.plant.parts.robot import Dragged, Output, Robot, Wheel

SKIPPED = 0.1
"""Share of its travel by which a screw out of step stands ahead."""


class Harm(Enum):
    """What can break below the firmware."""

    DISCONNECTED = "disconnected"
    STALLED = "stalled"
    STUCK_ON = "stuck on"
    JAMMED = "jammed"
    AHEAD = "ahead"


class Damage(NamedTuple):
    """One thing that is broken."""

    harm: Harm
    name: str
    """Of an output; of an actuator where that is jammed or ahead."""


def harmed(robot: Robot, damage: Iterable[Damage]) -> Robot:
    """The robot with all of it broken; what the physics does not know stays whole."""
    outputs = [output.name for output in robot.outputs]
    actuators = [actuator.name for actuator in robot.actuators]
    for harm, name in damage:
        if harm is Harm.JAMMED and name in actuators:
            robot = jammed(robot, actuators.index(name))
        elif harm is Harm.DISCONNECTED and name in outputs:
            robot = disconnected(robot, outputs.index(name))
        elif harm is Harm.STALLED and name in outputs:
            robot = seized(robot, outputs.index(name))
        elif harm is Harm.STUCK_ON and name in outputs:
            robot = stuck(robot, outputs.index(name), 1.0)
    return robot


def deaf_to(damage: Iterable[Damage], output: str, actuator: str) -> float | None:
    """The duty that moves an actuator whatever its output is told; None where it still listens."""
    found = {harm for harm, name in damage if name == (actuator if harm is Harm.JAMMED else output)}
    if found & {Harm.DISCONNECTED, Harm.STALLED, Harm.JAMMED}:
        return 0.0
    return 1.0 if Harm.STUCK_ON in found else None


def skips(damage: Iterable[Damage], actuator: str) -> bool:
    """Whether an actuator jumps ahead of the others as the damage sets in."""
    return Damage(Harm.AHEAD, actuator) in damage


def disconnected(robot: Robot, output: int) -> Robot:
    """The motors of an output get no current any more; their wheels turn them along."""
    driver = replace(robot.outputs[output].driver, brakes=False)
    outputs = _changed(robot, output, replace(robot.outputs[output], driver=driver, stuck=0.0))
    wheels = tuple(_dragging(robot, wheel) if wheel.output == output else wheel for wheel in robot.wheels)
    return replace(robot, outputs=outputs, wheels=wheels)


def seized(robot: Robot, output: int) -> Robot:
    """What an output drives does not turn any more; its motors stall as soon as they are told to turn."""
    robot = replace(
        robot, wheels=tuple(replace(w, seized=True) if w.output == output else w for w in robot.wheels)
    )
    for number, actuator in enumerate(robot.actuators):
        robot = jammed(robot, number) if actuator.output == output else robot
    return robot


def jammed(robot: Robot, actuator: int) -> Robot:
    """A screw stays where it is; its motor stalls as soon as it is told to turn."""
    actuators = list(robot.actuators)
    actuators[actuator] = replace(actuators[actuator], seized=True)
    return replace(robot, actuators=tuple(actuators))


def stuck(robot: Robot, output: int, duty: float) -> Robot:
    """A controller that puts out a duty from -1 to 1 whatever it is told."""
    return replace(robot, outputs=_changed(robot, output, replace(robot.outputs[output], stuck=duty)))


def weaker(robot: Robot, output: int, share: float) -> Robot:
    """A controller that puts out a share of what it is told."""
    return replace(robot, outputs=_changed(robot, output, replace(robot.outputs[output], share=share)))


def _changed(robot: Robot, output: int, new: Output) -> tuple[Output, ...]:
    return tuple(new if index == output else old for index, old in enumerate(robot.outputs))


def _dragging(robot: Robot, wheel: Wheel) -> Wheel:
    output = robot.outputs[wheel.output]
    dead = wheel.dragged.count if wheel.dragged else 0.0
    if output.motor is None:
        return wheel
    return replace(wheel, dragged=Dragged(output.motor, output.gearing, robot.motors_at(wheel) + dead))
