"""Contradictions of what goes out: mix, groups, wires, actuators."""

from collections.abc import Iterator

from mixer.core.ops import ONE
from mixer.errors import offer
from mixer.profile.checks.channels import ends_in_order
from mixer.profile.integers.quantize import q14, travel_limit
from mixer.profile.read.complaint import Complaint
from mixer.profile.schema.outputs import Actuator, Group, Output
from mixer.profile.schema.root import Robot

MOST_WEIGHT = 4
TRAVEL_LIMIT_END = 2**30
_PULSE_KEYS = ("low_us", "centre_us", "high_us")
_DUTY_KEYS = ("top", "direction_pin", "bridge")


def check_outputs(robot: Robot) -> Iterator[Complaint]:
    """Every complaint about outputs, groups and actuators."""
    for name, output in robot.output.items():
        yield from _mix(name, output, robot)
        yield from _wire(name, output)
    owner: dict[str, str] = {}
    for name, group in robot.group.items():
        yield from _group(name, group, robot, owner)
    for name, actuator in robot.actuator.items():
        yield from _actuator_output(name, actuator, robot)
        yield from _stops(name, actuator, robot)
        yield from _travel(name, actuator, robot.robot.tick_ms)


def _mix(name: str, output: Output, robot: Robot) -> Iterator[Complaint]:
    path = ("output", name, "mix")
    sources = {*robot.stick, *robot.switch}
    for source in output.mix:
        if source not in sources:
            said = f"no stick or switch is called {source!r}"
            yield Complaint((*path, source), said, offer(source, sources, "sticks and switches"))
    weights = [q14(weight) for weight in output.mix.values()]
    if not any(weights):
        said = "mixes nothing, so it would never move"
        yield Complaint(path, said, "write how much of which stick it gets: { throttle = 1.0 }")
    total = sum(map(abs, weights))
    if total > MOST_WEIGHT * ONE:
        said = f"the weights' magnitudes sum to {total / ONE:g}"
        yield Complaint(path, said, f"keep the sum within {MOST_WEIGHT}, or whole numbers could overflow")


def _wire(name: str, output: Output) -> Iterator[Complaint]:
    path = ("output", name)
    useless = _DUTY_KEYS if output.wire == "pulse" else _PULSE_KEYS
    other = "duty" if output.wire == "pulse" else "pulse"
    for key in useless:
        if key in output.model_fields_set:
            said = f"has no meaning on a {output.wire} wire"
            yield Complaint((*path, key), said, f'take it out, or write wire = "{other}"')
    if output.wire == "duty":
        return
    remedy = "write the pulses for full reverse and full forward"
    yield from ends_in_order(path, output, "motor", "output could never move", remedy)


def _group(name: str, group: Group, robot: Robot, owner: dict[str, str]) -> Iterator[Complaint]:
    path = ("group", name)
    for number, output in enumerate(group.outputs):
        if output not in robot.output:
            said = f"no output is called {output!r}"
            yield Complaint((*path, "outputs", number), said, offer(output, robot.output, "outputs"))
        elif owner.get(output, name) != name:
            said = f"output {output!r} is already in group {owner[output]!r}"
            yield Complaint((*path, "outputs", number), said, "put each output into one group only")
        owner.setdefault(output, name)
    if group.over_range == "yield" and group.yields is None:
        said = 'over_range = "yield" does not say which stick gives way'
        yield Complaint((*path, "yields"), said, 'add yields = "throttle", or the stick you mean')
    if group.over_range != "yield" and group.yields is not None:
        said = f'has no meaning with over_range = "{group.over_range}"'
        yield Complaint((*path, "yields"), said, 'take it out, or write over_range = "yield"')
    members = [robot.output[output] for output in group.outputs if output in robot.output]
    mixed = {source for output in members for source, weight in output.mix.items() if q14(weight)}
    if group.over_range == "yield" and group.yields is not None and group.yields not in mixed:
        said = f"none of the group's outputs mixes {group.yields!r}"
        yield Complaint((*path, "yields"), said, offer(group.yields, mixed, "sources of this group"))


def _actuator_output(name: str, actuator: Actuator, robot: Robot) -> Iterator[Complaint]:
    path = ("actuator", name, "output")
    if actuator.output not in robot.output:
        said = f"no output is called {actuator.output!r}"
        yield Complaint(path, said, offer(actuator.output, robot.output, "outputs"))


def _stops(name: str, actuator: Actuator, robot: Robot) -> Iterator[Complaint]:
    for key in ("out_stop", "in_stop"):
        contact = getattr(actuator, key)
        if contact is None:
            continue
        path = ("actuator", name, key)
        if contact not in robot.contact:
            said = f"no contact is called {contact!r}"
            yield Complaint(path, said, offer(contact, robot.contact, "contacts"))
        if actuator.stops_in_circuit:
            said = "the board cannot see a switch that sits in the motor's own circuit"
            yield Complaint(path, said, "take it out, or write stops_in_circuit = false")
    if actuator.out_stop is not None and actuator.out_stop == actuator.in_stop:
        said = f"contact {actuator.in_stop!r} is the out_stop as well, so it would block both directions"
        yield Complaint(("actuator", name, "in_stop"), said, "give each end a contact of its own")


def _travel(name: str, actuator: Actuator, tick_ms: int) -> Iterator[Complaint]:
    if actuator.full_travel_ms is None:
        return
    limit = travel_limit(actuator.full_travel_ms, actuator.travel_margin, tick_ms)
    if limit >= TRAVEL_LIMIT_END:
        most = TRAVEL_LIMIT_END // ONE * tick_ms / actuator.travel_margin
        margin = actuator.travel_margin
        said = f"{actuator.full_travel_ms:g} ms with travel_margin {margin:g} is too long to count"
        yield Complaint(
            ("actuator", name, "full_travel_ms"), said, f"stay below {most:.0f} ms, or leave it out"
        )
