"""What comes in and what goes out: channel map, wiring tables, and how the guard is set."""

from collections.abc import Iterator, Mapping, Sequence
from math import ceil
from string import digits

from mixer.board.wiring.given import printed
from mixer.board.wiring.settings import fingerprint_of
from mixer.profile.integers.usage import chooser_of, used_contacts, used_sticks, used_switches
from mixer.profile.schema.channels import Channel, Stick, Switch
from mixer.profile.schema.outputs import Actuator, Output
from mixer.profile.schema.root import Robot
from mixer.sheet.blocks import CELL_MM, Column, Row, Table, Text
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level


def channel_map(facts: SheetFacts, level: Level) -> Table:
    """Receiver channel -> what it is called and what it does."""
    robot = facts.robot
    sticks = [(robot.stick[name].receiver, name, _stick(robot.stick[name])) for name in used_sticks(robot)]
    switches = [(robot.switch[name].receiver, name, _switch(name, robot)) for name in used_switches(robot)]
    rows = [(str(number), name, words) for number, name, words in sorted(sticks + switches)]
    names = [row[1] for row in rows]
    columns = [
        Column("Rx", 7, number=True),
        Column("Channel", _room(names, level, 22)),
        Column("Kind, pulses, positions", 0),
    ]
    shown: list[Row] = [*level.cut(rows, "channels", f"the profile {facts.file}", level.most)]
    if facts.wiring is None:
        return Table("Channel map", tuple(columns), tuple(shown))
    by_key = {wire.key: printed(pin) for wire, pin in facts.wiring.places.items()}
    if ("receiver", "pin") in by_key:
        one = f"One pulse-sum wire of {facts.wiring.channels} channels: pin {by_key['receiver', 'pin']}."
        return Table("Channel map", tuple(columns), tuple(shown), (one,))
    pins = [_pins(facts, "stick" if row[1] in robot.stick else "switch", str(row[1])) for row in shown]
    columns[1:2] = [
        Column("Pin", _room(pins, level, 8, 12)),
        Column("Channel", _room(names, level, 14, 33)),
    ]
    with_pins = ((row[0], pin, *row[1:]) for row, pin in zip(shown, pins, strict=True))
    return Table("Channel map", tuple(columns), tuple(with_pins))


def _pins(facts: SheetFacts, section: str, name: str) -> str:
    """The pins of one thing as the board prints them, else as the profile gives them."""
    if facts.wiring is None:
        return str(getattr(facts.robot, section)[name].pin)
    placed = facts.wiring.places.items()
    first, *rest = (printed(pin) for wire, pin in placed if wire.key[:2] == (section, name))
    alike = first.rstrip(digits)
    return "/".join([first, *(pin.removeprefix(alike) for pin in rest)])


def _second(at: Mapping[str, str]) -> str:
    """What stands behind the stroke, where a pin has one."""
    return "; pins: PWM/direction or second input" if any("/" in pins for pins in at.values()) else ""


def _title(facts: SheetFacts) -> str:
    """The outputs' heading: with the board, and by which wiring, where the profile names one."""
    if facts.wiring is None:
        return "Outputs"
    return f"Outputs of the {facts.wiring.board.name}, wiring {fingerprint_of(facts.wiring)}"


def _stick(stick: Stick) -> str:
    words = [f"stick {stick.low_us}/{stick.centre_us}/{stick.high_us} µs"]
    chooser = chooser_of(stick)
    if chooser is not None and not isinstance(stick.shape, str):
        names = [name for position, name in stick.shape.items() if position != "switch"]
        words.append(f"{chooser}: {' / '.join(names)}")
    elif isinstance(stick.shape, str):
        words.append(stick.shape)
    if stick.trim:
        words.append(f"trim {_signed(100 * stick.trim)} %")
    return ", ".join([*words, *_common(stick)])


def _switch(name: str, robot: Robot) -> str:
    switch: Switch = robot.switch[name]
    words = [f"switch: {' / '.join(switch.positions)}"]
    if robot.guard.arm is not None and robot.guard.arm.switch == name:
        words.append(f"{robot.guard.arm.position} arms")
    if robot.flip is not None and robot.flip.switch == name:
        words.append(f"{robot.flip.position} is upside down")
    return ", ".join([*words, *_common(switch)])


def _common(channel: Channel) -> Iterator[str]:
    if channel.reverse:
        yield "reversed"
    if channel.lost_below_us is not None:
        yield f"no signal < {channel.lost_below_us} µs"
    if channel.lost_above_us is not None:
        yield f"no signal > {channel.lost_above_us} µs"


def is_narrow(facts: SheetFacts, level: Level) -> bool:
    """Whether the outputs' table fits a column: with one kind of wire, or with numbers for its kinds."""
    return level.coded or len({_wire(output) for output in facts.robot.output.values()}) == 1


def output_table(facts: SheetFacts, level: Level) -> Table:
    """Output -> pin, wire, what it drives, and its share of each stick.

    With wires of several kinds there is a column more, and the table wants the page's whole width.
    """
    outputs = facts.robot.output
    if level.coded:
        return _coded_table(facts, level)
    where = f"the profile {facts.file}"
    at = {name: _pins(facts, "output", name) for name in outputs}
    if not is_narrow(facts, level):
        rows = [(at[name], name, _wire(o), _drives(o), _mix(o)) for name, o in outputs.items()]
        pins = Column("Pin", _room(list(at.values()), level, 9, 30))
        columns = (pins, Column("Output", 32), Column("Wire", 43), Column("Drives", 44))
        shown = level.cut(rows, "outputs", where, level.most)
        return Table(_title(facts), (*columns, Column("Mix", 0)), shown)
    alike = [(at[name], name, _drives(o), _mix(o)) for name, o in outputs.items()]
    pins = Column("Pin", _room(list(at.values()), level, 8, 30))
    return Table(
        _title(facts),
        (
            pins,
            Column("Output", _room(list(outputs), level, 16, 23)),
            Column("Drives", 0),
            Column("Mix", 42),
        ),
        level.cut(alike, "outputs", where, level.most),
        (f"Every wire: {_wire(next(iter(outputs.values())))}{_second(at)}.",),
    )


def _coded_table(facts: SheetFacts, level: Level) -> Table:
    """The same with a number for what is driven over which wire, told below once for all of a kind."""
    outputs = facts.robot.output
    kinds = {name: f"{_drives(o)}, {_wire(o)}" for name, o in outputs.items()}
    numbers = {kind: str(number) for number, kind in enumerate(dict.fromkeys(kinds.values()), start=1)}
    at = {name: _pins(facts, "output", name) for name in outputs}
    rows = [(at[name], name, numbers[kinds[name]], _mix(o)) for name, o in outputs.items()]
    shown = level.cut(rows, "outputs", f"the profile {facts.file}", level.most)
    used = {row[2] for row in shown}
    told = "; ".join(f"{number}: {kind}" for kind, number in numbers.items() if number in used)
    return Table(
        _title(facts),
        (
            Column("Pin", _room(list(at.values()), level, 8, 30)),
            Column("Output", _room(list(outputs), level, 18)),
            Column("Kind", 9),
            Column("Mix", 0),
        ),
        shown,
        (f"Kinds: {told}{_second(at)}.",),
    )


def _room(names: Sequence[str], level: Level, least: int, most: int = 0) -> int:
    """For the longest of the names, in mm, but no more than `most`, else half as much again as is usual."""
    longest = max(level.type_.width_mm(name) for name in names) + CELL_MM
    return min(max(ceil(longest), least), most or least * 3 // 2)


def _wire(output: Output) -> str:
    if output.wire == "pulse":
        zero = f", {output.at_zero}" if output.at_zero else ""
        return f"pulse {output.low_us}/{output.centre_us}/{output.high_us} µs{zero}"
    return f"duty ±{output.top}, {output.at_zero}"


def _drives(output: Output) -> str:
    words = [f"{output.motors} × {output.motor or 'motor'}"]
    if output.reverse:
        words.append("reversed")
    if output.limit < 1:
        words.append(f"≤ {100 * output.limit:.3g} %")
    return ", ".join(words)


def _mix(output: Output) -> str:
    return ", ".join(f"{_signed(weight)} {name}" for name, weight in output.mix.items() if weight)


def _signed(value: float) -> str:
    return f"{value:+.3g}".replace("-", "−")


def contact_table(facts: SheetFacts, level: Level) -> Table | None:
    """Contact -> pin and meaning; None where there is none."""
    robot = facts.robot
    rows = [
        (_pins(facts, "contact", name), name, _meaning(name, robot), str(robot.contact[name].closed_reads))
        for name in used_contacts(robot)
    ]
    if not rows:
        return None
    return Table(
        "Contacts",
        (
            Column("Pin", 10),
            Column("Contact", 23),
            Column("Closed means", 0),
            Column("and reads", 20, number=True),
        ),
        level.cut(rows, "contacts", f"the profile {facts.file}", level.most),
    )


def _meaning(contact: str, robot: Robot) -> str:
    words = [f"{name} is out" for name, item in robot.actuator.items() if item.out_stop == contact]
    words += [f"{name} is in" for name, item in robot.actuator.items() if item.in_stop == contact]
    if robot.flip is not None and robot.flip.contact == contact:
        words.append("upside down")
    return ", ".join(words)


def guard_text(facts: SheetFacts, level: Level) -> Text:
    """When outputs follow the sticks, and how they stop."""
    return Text("When it may move", (*_guard(facts), *_extras(facts, level)))


def _guard(facts: SheetFacts) -> Iterator[tuple[str, str]]:
    guard, receiver = facts.robot.guard, facts.robot.receiver
    still = f"sticks within {100 * guard.neutral_within:.3g} % of neutral for {guard.arm_hold_ms:g} ms"
    if guard.arm is None:
        yield "Arms:", f"without a switch: {still}."
    else:
        yield "Arms:", f"switch {guard.arm.switch} at {guard.arm.position}, seen off before; {still}."
    low, high = receiver.valid_us
    yield "Loss:", f"any channel {guard.lost_after_ms:g} ms without a pulse of {low} to {high} µs."
    yield "Stop:", f"{facts.stop.words}."
    again = "arm as at first" if guard.after_loss == "re-arm" else "goes on once the sticks rest at neutral"
    yield "After a loss:", f"{again}."


def _extras(facts: SheetFacts, level: Level) -> Iterator[tuple[str, str]]:
    robot = facts.robot
    if robot.flip is not None:
        by = robot.flip.contact or f"{robot.flip.switch} at {robot.flip.position}"
        yield "Upside down:", f"by {by}: {', '.join(robot.flip.reverses)} reversed."
    alike: dict[tuple[str, str], list[str]] = {}
    for name, group in robot.group.items():
        alike.setdefault(("Group", _policy(group.over_range, group.yields)), []).append(name)
    for name, item in robot.actuator.items():
        alike.setdefault(("Actuator", _travel(item)), []).append(name)
    rest = [(f"{kind} {', '.join(names)}:", f"{words}.") for (kind, words), names in alike.items()]
    yield from level.cut(rest, "groups and actuators", f"the profile {facts.file}", level.minor)


def _travel(actuator: Actuator) -> str:
    words = "travel not watched"
    if actuator.full_travel_ms is not None:
        words = f"whole travel {actuator.full_travel_ms / 1000:.3g} s, watched"
    return f"{words}; end stops unseen by the firmware" if actuator.stops_in_circuit else words


def _policy(over_range: str, yields: str | None) -> str:
    words = {"clip": "each output held at full", "scale": "scaled together, turn ratio kept"}
    return words.get(over_range, f"{yields} gives way")
