"""Contradictions of names and wires: what must be there once only, and not too often."""

from collections.abc import Iterable, Iterator

from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.schema.channels import LINEAR
from mixer.profile.schema.root import Robot

MOST_CHANNELS, MOST_OUTPUTS, MOST_ACTUATORS = 16, 24, 8
TAKEN_BY_LOGS = ("t_ms", "volts")


def check_names(robot: Robot) -> Iterator[Complaint]:
    """Every complaint about names, numbers and pins."""
    yield from _counts(robot)
    yield from _receiver_numbers(robot)
    yield from _pins(robot)
    yield from _receiver_wires(robot)
    yield from _one_meaning(robot)
    yield from _lists(robot)


def _counts(robot: Robot) -> Iterator[Complaint]:
    channels = len(robot.stick) + len(robot.switch)
    if channels > MOST_CHANNELS:
        said = f"{channels} sticks and switches are too many"
        yield Complaint(("stick",), said, f"use {MOST_CHANNELS} at most")
    for section, most in (("output", MOST_OUTPUTS), ("actuator", MOST_ACTUATORS)):
        names = list(getattr(robot, section))
        if len(names) > most:
            said = f"{len(names)} {section}s are too many"
            yield Complaint((section, names[most]), said, f"use {most} at most, of which this is the next")
    if not robot.output:
        yield Complaint(("output",), "the robot has no output", "add an [output.NAME] with pin and mix")


def _receiver_numbers(robot: Robot) -> Iterator[Complaint]:
    seen: dict[int, str] = {}
    read = [
        *((("stick", name), item.receiver) for name, item in robot.stick.items()),
        *((("switch", name), item.receiver) for name, item in robot.switch.items()),
    ]
    taken = {number for _, number in read}
    for path, number in read:
        if number in seen:
            said = f"receiver channel {number} is already read by {seen[number]}"
            free = next((n for n in range(1, 17) if n not in taken), None)
            remedy = f"give each a channel of its own{f'; {free} is free' if free else ''}"
            yield Complaint((*path, "receiver"), said, remedy)
        seen.setdefault(number, ".".join(path))


def pins_of(robot: Robot) -> Iterator[tuple[KeyPath, int | str]]:
    """Every pin the profile gives, with the key that gives it, in the order of the file's sections."""
    if robot.receiver.pin is not None:
        yield ("receiver", "pin"), robot.receiver.pin
    for section in ("stick", "switch", "output", "contact"):
        for name, item in getattr(robot, section).items():
            for key in ("pin", "direction_pin"):
                pin = getattr(item, key, None)
                if pin is not None:
                    yield (section, name, key), pin
    if robot.battery is not None and robot.battery.pin is not None:
        yield ("battery", "pin"), robot.battery.pin


def _pins(robot: Robot) -> Iterator[Complaint]:
    seen: dict[str, str] = {}
    for path, pin in pins_of(robot):
        key = str(pin).upper()
        if key in seen:
            said = f"pin {pin!r} is already taken by {seen[key]}"
            yield Complaint(path, said, "give each wire a pin of its own")
        owner = path[:-1] if path[-1] == "pin" and path[0] not in ("receiver", "battery") else path
        seen.setdefault(key, ".".join(map(str, owner)))


def _receiver_wires(robot: Robot) -> Iterator[Complaint]:
    one_wire = robot.receiver.wire == "pulse-sum"
    if robot.receiver.pin is not None and not one_wire:
        said = 'has no meaning with wire = "channels": each channel has a wire of its own'
        yield Complaint(("receiver", "pin"), said, 'take it out, or write wire = "pulse-sum"')
    length = robot.receiver.channels
    if length is not None and not one_wire:
        said = 'has no meaning with wire = "channels"'
        yield Complaint(("receiver", "channels"), said, 'take it out, or write wire = "pulse-sum"')
    for section in ("stick", "switch"):
        for name, channel in getattr(robot, section).items():
            if channel.pin is not None and one_wire:
                said = 'has no meaning with [receiver] wire = "pulse-sum": all channels come on one wire'
                yield Complaint((section, name, "pin"), said, "take it out, or give [receiver] pin")
            if one_wire and length is not None and channel.receiver > length:
                said = f"receiver channel {channel.receiver} is none of the {length} on the pulse-sum wire"
                remedy = "give the number in the train, or write [receiver] channels as long as it is"
                yield Complaint((section, name, "receiver"), said, remedy)


def _one_meaning(robot: Robot) -> Iterator[Complaint]:
    for name in robot.switch:
        if name in robot.stick:
            said = f"a stick and a switch are both called {name!r}, so a mix could mean either"
            yield Complaint(("switch", name), said, "rename one of them")
    for name in robot.contact:
        if name in robot.stick or name in robot.switch:
            said = f"a contact and a channel are both called {name!r}, so a log's column could mean either"
            yield Complaint(("contact", name), said, "rename one of them")
    for section in ("stick", "switch", "contact"):
        for name in getattr(robot, section):
            if name in TAKEN_BY_LOGS:
                said = f"{name!r} is a column every log has already"
                yield Complaint((section, name), said, "choose another name")
    if LINEAR in robot.shape:
        said = f"{LINEAR!r} is the built-in straight shape"
        yield Complaint(("shape", LINEAR), said, "choose another name")


def _lists(robot: Robot) -> Iterator[Complaint]:
    for name, switch in robot.switch.items():
        yield from _repeated(("switch", name, "positions"), switch.positions)
        if "switch" in switch.positions:
            said = "a position cannot be called 'switch', a word the shape tables use"
            yield Complaint(("switch", name, "positions"), said, "choose another name")
    for name, group in robot.group.items():
        yield from _repeated(("group", name, "outputs"), group.outputs)
    if robot.flip is not None:
        yield from _repeated(("flip", "reverses"), robot.flip.reverses)
    for name, lift in robot.lift.items():
        yield from _repeated(("lift", name, "actuators"), lift.actuators)
    yield from _repeated(("part",), [part.name for part in robot.part])


def _repeated(path: KeyPath, names: Iterable[str]) -> Iterator[Complaint]:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            yield Complaint(path, f"{name!r} stands there twice", "name each once")
        seen.add(name)
