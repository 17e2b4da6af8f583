"""A robot with a channel, or one motor of a channel, dead: what `--without` means, in one place.

`left_rear` takes the channel out of the firmware; its wheels stay on the floor and turn their dead
gearmotors along, its actuator stays where it is. `left_rear:1` is one of its motors that gives nothing
(counted from 1 in the order of its wheels); the firmware is then as before.
"""

from collections.abc import Sequence

from mixer.errors import OptionError, offer
from mixer.profile.schema.outputs import Output
from mixer.profile.schema.root import Robot


def named(robot: Robot, given: Sequence[str]) -> tuple[str, ...]:
    """Those of the given names that this robot has. Raises OptionError for a motor a channel lacks."""
    known = []
    for name in given:
        channel, colon, number = name.partition(":")
        output = robot.output.get(channel)
        if output is None:
            continue
        if colon and not (number.isdecimal() and 1 <= int(number) <= output.motors):
            motors = f"{channel}:1 to {channel}:{output.motors}, or " if output.motors > 1 else ""
            remedy = f"{motors}{channel} for the channel"
            raise OptionError(f"--without {name}: {channel} has {_motors(output)}", remedy)
        known.append(name)
    return tuple(known)


def _motors(output: Output) -> str:
    return "one motor" if output.motors == 1 else f"{output.motors} motors"


def unknown(robots: Sequence[Robot], given: Sequence[str]) -> OptionError | None:
    """What to say of a name that none of the loadouts has."""
    outputs = [name for robot in robots for name in robot.output]
    for name in given:
        channel = name.partition(":")[0]
        if channel not in outputs:
            remedy = offer(channel, dict.fromkeys(outputs), "outputs")
            return OptionError(f"--without {name}: no output is called {channel!r}", remedy)
    return None


def without(robot: Robot, given: Sequence[str]) -> Robot:
    """The robot with these dead. Raises OptionError where nothing would be left."""
    for name in named(robot, given):
        channel, colon, number = name.partition(":")
        robot = _motor_dead(robot, channel, int(number)) if colon else _channel_dead(robot, channel)
    return robot


def _motor_dead(robot: Robot, channel: str, number: int) -> Robot:
    if channel not in robot.output:
        return robot
    output = robot.output[channel]
    dead = tuple(sorted({*output.dead_motors, number}))
    if len(dead) == output.motors:
        return _channel_dead(robot, channel)
    changed = output.model_copy(update={"dead_motors": dead})
    return robot.model_copy(update={"output": robot.output | {channel: changed}})


def _channel_dead(robot: Robot, channel: str) -> Robot:
    gone = robot.output[channel]
    outputs = {name: output for name, output in robot.output.items() if name != channel}
    if not outputs:
        raise OptionError(f"--without {channel}: nothing would be left", "name one of several outputs")
    actuators = {name: item for name, item in robot.actuator.items() if item.output != channel}
    lifts = {
        name: lift.model_copy(update={"actuators": kept})
        for name, lift in robot.lift.items()
        if (kept := tuple(item for item in lift.actuators if item in actuators))
    }
    groups = {
        name: group.model_copy(update={"outputs": kept})
        for name, group in robot.group.items()
        if (kept := tuple(item for item in group.outputs if item != channel))
    }
    wheels = {
        name: wheel.model_copy(update={"output": None, "drags": gone.motor, "drags_count": share})
        if wheel.output == channel
        else wheel
        for name, wheel in robot.wheel.items()
        for share in [gone.motors / max(sum(w.output == channel for w in robot.wheel.values()), 1)]
    }
    changed = {"output": outputs, "actuator": actuators, "lift": lifts, "group": groups, "wheel": wheels}
    return robot.model_copy(update=changed)
