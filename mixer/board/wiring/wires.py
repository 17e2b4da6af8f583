"""Every wire between a robot and its board, read off the profile."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from mixer.board.kinds.kind import Use
from mixer.profile.integers.usage import used_contacts, used_sticks, used_switches
from mixer.profile.read.lines import KeyPath
from mixer.profile.schema.channels import Channel
from mixer.profile.schema.root import Robot


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire that wants a pin."""

    use: Use
    key: KeyPath
    """The key of the profile that gives its pin, such as ``output.left.pin``; also its name."""
    carries: str
    """What it is for, in a word or two."""
    given: int | str | None = None
    """The pin that the profile gives."""
    number: int = 0
    """Of a channel the receiver's number, of a contact that of the board's input, of an output and its
    direction the place in the plan, from 1; 0 for the rest."""
    top: int = 0
    """Of a duty the count that is full."""
    wanted: bool = False
    """Whether it is left out, rather than nothing wired, where no pin is left for it."""

    @property
    def spelled(self) -> str:
        """Its key as messages write it."""
        return ".".join(map(str, self.key))


USUAL_TRAIN = 8
"""Channels of a pulse-sum wire where nobody says how many: what most receivers send (common practice)."""
SERIAL = Wire(Use.SERIAL_OUT, ("serial",), "frames to the bench")
TICK = Wire(Use.TICK, ("tick",), "for a scope", wanted=True)


def wires_of(robot: Robot, contacts: Iterable[str] = ()) -> tuple[Wire, ...]:
    """All wires of one robot: outputs with their directions, channels, contacts, serial line, battery.

    `contacts` are the base robot's: they keep their numbers in every loadout.
    """
    inputs = (*_channels(robot), *_contacts(robot, contacts))
    return (*_outputs(robot), *inputs, SERIAL, *_battery(robot), TICK)


def _outputs(robot: Robot) -> Iterator[Wire]:
    for number, (name, output) in enumerate(robot.output.items(), start=1):
        key = ("output", name, "pin")
        if output.wire == "pulse":
            yield Wire(Use.SERVO, key, name, output.pin, number)
            continue
        yield Wire(Use.DUTY, key, name, output.pin, number, output.top)
        second = ("output", name, "direction_pin")
        if output.bridge == "two-inputs":
            yield Wire(Use.DUTY, second, f"{name}, second input", output.direction_pin, number, output.top)
        else:
            yield Wire(Use.DIRECTION, second, f"{name}, direction", output.direction_pin, number)


def _channels(robot: Robot) -> Iterator[Wire]:
    if robot.receiver.wire == "pulse-sum":
        yield Wire(Use.PULSE_SUM, ("receiver", "pin"), "all channels", robot.receiver.pin)
        return
    for section, name, channel in sorted(_used(robot), key=lambda item: item[2].receiver):
        yield Wire(Use.CHANNEL, (section, name, "pin"), name, channel.pin, channel.receiver)


def _used(robot: Robot) -> Iterator[tuple[str, str, Channel]]:
    yield from (("stick", name, robot.stick[name]) for name in used_sticks(robot))
    yield from (("switch", name, robot.switch[name]) for name in used_switches(robot))


def channels_of(robot: Robot) -> int:
    """How many channels the board reads: up to the highest that is used, or all of a pulse-sum train."""
    highest = max((channel.receiver for _, _, channel in _used(robot)), default=1)
    if robot.receiver.wire == "channels":
        return highest
    return robot.receiver.channels or max(highest, USUAL_TRAIN)


def _contacts(robot: Robot, contacts: Iterable[str]) -> Iterator[Wire]:
    inputs = list(dict.fromkeys([*contacts, *robot.contact]))
    for name in used_contacts(robot):
        number = inputs.index(name) + 1
        yield Wire(Use.CONTACT, ("contact", name, "pin"), name, robot.contact[name].pin, number)


def _battery(robot: Robot) -> Iterator[Wire]:
    if robot.battery is not None:
        pin = robot.battery.pin
        yield Wire(Use.BATTERY, ("battery", "pin"), "pack behind a divider", pin, wanted=pin is None)
