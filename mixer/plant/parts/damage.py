"""A robot with something broken, its state laid out as before: to go on with while it runs.

Disconnected and stalled are opposites: a motor without current lets its wheel roll and drags at it, a
seized one holds its wheel and draws what a stall draws.
"""

from dataclasses import replace

from mixer.plant.parts.robot import Dragged, Output, Robot, Wheel


def disconnected(robot: Robot, output: int) -> Robot:
    """The motors of an output get no current any more; their wheels turn them along."""
    driver = replace(robot.outputs[output].driver, brakes=False)
    outputs = _changed(robot, output, replace(robot.outputs[output], driver=driver, stuck=0.0))
    wheels = tuple(_dragging(robot, wheel) if wheel.output == output else wheel for wheel in robot.wheels)
    return replace(robot, outputs=outputs, wheels=wheels)


def seized(robot: Robot, output: int) -> Robot:
    """What an output drives does not turn any more; its motors stall as soon as they are told to turn."""
    return replace(
        robot,
        wheels=tuple(replace(w, seized=True) if w.output == output else w for w in robot.wheels),
        actuators=tuple(replace(a, seized=True) if a.output == output else a for a in robot.actuators),
    )


def stuck(robot: Robot, output: int, duty: float) -> Robot:
    """A controller that puts out a duty from -1 to 1 whatever it is told."""
    return replace(robot, outputs=_changed(robot, output, replace(robot.outputs[output], stuck=duty)))


def _changed(robot: Robot, output: int, new: Output) -> tuple[Output, ...]:
    return tuple(new if index == output else old for index, old in enumerate(robot.outputs))


def _dragging(robot: Robot, wheel: Wheel) -> Wheel:
    output = robot.outputs[wheel.output]
    dead = wheel.dragged.count if wheel.dragged else 0.0
    if output.motor is None:
        return wheel
    return replace(wheel, dragged=Dragged(output.motor, output.gearing, robot.motors_at(wheel) + dead))
