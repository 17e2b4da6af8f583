"""A wiring as people read it, and as TOML lines: the one account of it, for screen, sheet and project."""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass

from mixer.board.kinds.kind import Use
from mixer.board.wiring.divider import Divider, divider_of
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.given import printed
from mixer.board.wiring.wires import Wire
from mixer.profile.read.lines import KeyPath

PULL_DOWN = "10 kΩ to ground"
"""What holds an output at rest while the board is in reset and its pins float."""


@dataclass(frozen=True, slots=True)
class Row:
    """One wire in words."""

    wire: str
    """What kind it is, with its number: ``channel 2``, ``servo pulse``."""
    carries: str
    pin: str
    """As printed on the usual boards."""
    chip: str
    """As the data sheet of the chip calls it."""
    level: str
    """Direction, volts, and what stands between."""
    assigned: bool
    """Whether the profile leaves the pin to Stickwright."""


def rows_of(wiring: Wiring) -> tuple[Row, ...]:
    """Every wire, in the order of outputs, channels, contacts, serial line, battery, tick."""
    return tuple(
        Row(
            _kind(wire), wire.carries, printed(pin), pin.name, _level(wire, wiring), wire in wiring.assigned
        )
        for wire, pin in wiring.places.items()
    )


def _kind(wire: Wire) -> str:
    return f"{wire.use} {wire.number}" if wire.use in (Use.CHANNEL, Use.CONTACT) else str(wire.use)


def _level(wire: Wire, wiring: Wiring) -> str:
    volts = f"{wiring.board.volts:g} V"
    if wire.use == Use.BATTERY:
        return _divider_words(divider_of(wiring), volts)
    if wire.use == Use.SERVO:
        output = wiring.robot.output[str(wire.key[1])]
        ends = f"{output.low_us}/{output.centre_us}/{output.high_us} µs every 20 ms"
        return f"0 / {volts} out, {ends}; {PULL_DOWN}"
    return {
        Use.CHANNEL: f"0 / {volts} in, through 1 kΩ",
        Use.PULSE_SUM: f"0 / {volts} in, through 1 kΩ, {wiring.channels} channels",
        Use.CONTACT: f"switch to ground, pulled up to {volts} inside",
        Use.DUTY: f"0 / {volts} out, PWM of {wire.top} counts; {PULL_DOWN}",
        Use.DIRECTION: f"0 / {volts} out, high is backward; {PULL_DOWN}",
        Use.SERIAL_OUT: f"0 / {volts} out, {wiring.baud} baud, 8N1",
        Use.TICK: f"0 / {volts} out, high while a tick works",
    }[wire.use]


def _divider_words(divider: Divider | None, volts: str) -> str:
    if divider is None:
        return f"0 to {volts} in, behind a divider"
    return (
        f"0 to {volts} in: {divider.upper_kohm:g} kΩ to battery plus, {divider.lower_kohm:g} kΩ and 100 nF "
        f"to ground; {divider.full_scale_mv / 1000:g} V give {volts}"
    )


def left_out_words(wiring: Wiring) -> Iterator[str]:
    """What found no pin, one sentence each."""
    for wire in wiring.left_out:
        what = (
            "the battery is not measured" if wire.use == Use.BATTERY else "there is no tick pin for a scope"
        )
        yield f"no pin is free for it: {what}"


def fingerprint_of(wiring: Wiring) -> str:
    """Twelve hex digits of SHA-256 over every wire's pin and level: equal wirings, equal fingerprints."""
    told = [wiring.board.key, *([row.wire, row.carries, row.chip, row.level] for row in rows_of(wiring))]
    return hashlib.sha256(json.dumps(told, ensure_ascii=False).encode()).hexdigest()[:12]


def toml_lines(wiring: Wiring) -> list[str]:
    """What to write into the profile so that it gives the whole wiring, table by table."""
    tables: dict[str, list[str]] = {"[robot]": [f'board = "{wiring.board.key}"']}
    for wire, pin in wiring.places.items():
        if wire in wiring.assigned and len(wire.key) > 1:
            tables.setdefault(_header(wire.key), []).append(f'{wire.key[-1]} = "{printed(pin)}"')
    divider = divider_of(wiring)
    if divider is not None and wiring.robot.battery and wiring.robot.battery.divider_kohm is None:
        pair = f"[{divider.upper_kohm:g}, {divider.lower_kohm:g}]"
        tables.setdefault("[battery]", []).append(f"divider_kohm = {pair}")
    if wiring.robot.robot.board == wiring.board.key:
        del tables["[robot]"]
    return [line for header, lines in tables.items() for line in (header, *lines, "")][:-1]


def _header(key: KeyPath) -> str:
    return f"[{'.'.join(map(str, key[:-1]))}]"
