"""Contradictions of what comes in: endpoints, lost marks, switch edges, shapes, flip."""

from collections.abc import Iterator, Mapping

from mixer.errors import offer
from mixer.profile.integers.quantize import edges_of
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.schema.channels import LINEAR, Channel, Flip, Stick, Switch
from mixer.profile.schema.outputs import Output
from mixer.profile.schema.root import Robot

LEAST_SPAN_US = 50
"""A shorter way could not be told from a receiver's jitter of a few µs."""


def check_channels(robot: Robot) -> Iterator[Complaint]:
    """Every complaint about sticks, switches, shapes and flip."""
    low, high = robot.receiver.valid_us
    if low >= high:
        said = f"the shortest valid pulse, {low} µs, is not below the longest, {high} µs"
        yield Complaint(("receiver", "valid_us"), said, "write the shorter first: [800, 2200]")
    for name, stick in robot.stick.items():
        yield from _stick_ends(("stick", name), stick)
        yield from _marks_and_range(("stick", name), stick, robot)
        yield from _shape(("stick", name, "shape"), stick.shape, robot)
    for name, switch in robot.switch.items():
        yield from _switch_ends(("switch", name), switch)
        yield from _marks_and_range(("switch", name), switch, robot)
    if robot.flip is not None:
        yield from _flip(robot.flip, robot)


def ends_in_order(
    path: KeyPath, ends: Stick | Output, thing: str, stands: str, remedy: str
) -> Iterator[Complaint]:
    """Two ends and a centre the wrong way round, or all alike: then what `stands` says."""
    low, centre, high = ends.low_us, ends.centre_us, ends.high_us
    order = f"low <= centre <= high; reverse = true turns a {thing} round"
    if low > centre:
        yield Complaint((*path, "low_us"), f"low_us {low} is above centre_us {centre}", order)
    if centre > high:
        yield Complaint((*path, "centre_us"), f"centre_us {centre} is above high_us {high}", order)
    if low == centre == high:
        said = f"low_us, centre_us and high_us are all {low}, so the {stands}"
        yield Complaint((*path, "low_us"), said, remedy)


def _stick_ends(path: KeyPath, stick: Stick) -> Iterator[Complaint]:
    low, centre, high = stick.low_us, stick.centre_us, stick.high_us
    remedy = "read the pulses at both ends of the stick and write them here"
    yield from ends_in_order(path, stick, "stick", "stick has no way to go", remedy)
    for key, span in (("low_us", centre - low), ("high_us", high - centre)):
        if 0 < span < LEAST_SPAN_US:
            said = f"only {span} µs from the centre, which jitter alone could cover"
            remedy = f"leave {LEAST_SPAN_US} µs or more, or put it on the centre for a one-sided stick"
            yield Complaint((*path, key), said, remedy)


def _switch_ends(path: KeyPath, switch: Switch) -> Iterator[Complaint]:
    low, high = switch.low_us, switch.high_us
    if low >= high:
        said = f"low_us {low} is not below high_us {high}"
        yield Complaint((*path, "low_us"), said, "low < high; reverse = true turns a switch round")
        return
    edge = edges_of(low, high, len(switch.positions))[0]
    if switch.hysteresis_us >= edge - low:
        said = f"{switch.hysteresis_us} µs is wider than the gap of {edge - low} µs from an edge to the end"
        remedy = f"stay below {edge - low}, or no pulse could reach the end positions"
        yield Complaint((*path, "hysteresis_us"), said, remedy)


def _marks_and_range(path: KeyPath, channel: Channel, robot: Robot) -> Iterator[Complaint]:
    shortest, longest = robot.receiver.valid_us
    keys = ("low_us", "centre_us", "high_us") if isinstance(channel, Stick) else ("low_us", "high_us")
    for key in keys:
        pulse = getattr(channel, key)
        if shortest < longest and not shortest <= pulse <= longest:
            said = (
                f"{pulse} µs is outside [receiver] valid_us [{shortest}, {longest}]: it would never count"
            )
            yield Complaint((*path, key), said, "bring it inside, or widen valid_us")
    below, above = channel.lost_below_us, channel.lost_above_us
    if below is not None and below >= channel.low_us:
        said = f"{below} µs lies inside the endpoints, whose lower one is {channel.low_us}"
        yield Complaint((*path, "lost_below_us"), said, f"stay below {channel.low_us}, or leave it out")
    if above is not None and above <= channel.high_us:
        said = f"{above} µs lies inside the endpoints, whose upper one is {channel.high_us}"
        yield Complaint((*path, "lost_above_us"), said, f"stay above {channel.high_us}, or leave it out")


def _shape(path: KeyPath, choice: str | Mapping[str, str], robot: Robot) -> Iterator[Complaint]:
    shapes = {LINEAR, *robot.shape}
    if isinstance(choice, str):
        if choice not in shapes:
            yield Complaint(path, f"no shape is called {choice!r}", offer(choice, shapes, "shapes"))
        return
    for key, shape in choice.items():
        if key != "switch" and shape not in shapes:
            yield Complaint((*path, key), f"no shape is called {shape!r}", offer(shape, shapes, "shapes"))
    switch = choice.get("switch")
    if switch is None:
        remedy = 'write { switch = "NAME", and a shape for each of its positions }'
        yield Complaint(path, "does not say which switch chooses", remedy)
    elif switch not in robot.switch:
        said = f"no switch is called {switch!r}"
        yield Complaint((*path, "switch"), said, offer(switch, robot.switch, "switches"))
    else:
        yield from _shape_positions(path, choice, robot.switch[switch].positions)


def _shape_positions(
    path: KeyPath, choice: Mapping[str, str], positions: tuple[str, ...]
) -> Iterator[Complaint]:
    missing = [position for position in positions if position not in choice]
    if missing:
        said = f"no shape for position {', '.join(map(repr, missing))} of switch {choice['switch']!r}"
        yield Complaint(path, said, f"give a shape for each of: {', '.join(positions)}")
    for key in choice:
        if key != "switch" and key not in positions:
            said = f"switch {choice['switch']!r} has no position {key!r}"
            yield Complaint((*path, key), said, offer(key, positions, "positions"))


def _flip(flip: Flip, robot: Robot) -> Iterator[Complaint]:
    for number, name in enumerate(flip.reverses):
        if name not in robot.stick:
            said = f"no stick is called {name!r}"
            yield Complaint(("flip", "reverses", number), said, offer(name, robot.stick, "sticks"))
    if (flip.switch is None) == (flip.contact is None):
        said = "needs one source" if flip.switch is None else "has two sources, a switch and a contact"
        yield Complaint(("flip",), said, "write either switch and position, or contact")
    if flip.contact is not None and flip.contact not in robot.contact:
        said = f"no contact is called {flip.contact!r}"
        yield Complaint(("flip", "contact"), said, offer(flip.contact, robot.contact, "contacts"))
    if flip.switch is not None:
        yield from position_of_switch(("flip",), flip.switch, flip.position, robot)
        arm = robot.guard.arm
        if flip.contact is None and arm is not None and arm.switch == flip.switch:
            said = f"{flip.switch!r} is the arm switch as well, so arming would say which way up it lies"
            yield Complaint(
                ("flip", "switch"), said, "tell the way up by a switch of its own, or a contact"
            )
    elif flip.position is not None:
        yield Complaint(("flip", "position"), "a position without a switch", "add switch, or take it out")


def position_of_switch(
    path: KeyPath, switch: str, position: str | None, robot: Robot
) -> Iterator[Complaint]:
    """Complaints about a reference to one position of a switch."""
    if switch not in robot.switch:
        said = f"no switch is called {switch!r}"
        yield Complaint((*path, "switch"), said, offer(switch, robot.switch, "switches"))
        return
    positions = robot.switch[switch].positions
    if position is None:
        said = f"does not say which position of switch {switch!r} is meant"
        yield Complaint((*path, "position"), said, f"add position = one of: {', '.join(positions)}")
    elif position not in positions:
        said = f"switch {switch!r} has no position {position!r}"
        yield Complaint((*path, "position"), said, offer(position, positions, "positions"))
