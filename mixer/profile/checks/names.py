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


def _pins(robot: Robot) -> Iterator[Complaint]:
    seen: dict[str, str] = {}
    for path, pin in [
        *((("output", name), item.pin) for name, item in robot.output.items()),
        *((("contact", name), item.pin) for name, item in robot.contact.items()),
    ]:
        key = str(pin).upper()
        if key in seen:
            said = f"pin {pin!r} is already taken by {seen[key]}"
            yield Complaint((*path, "pin"), said, "give each wire a pin of its own")
        seen.setdefault(key, ".".join(path))


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
