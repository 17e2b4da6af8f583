"""A wiring as people read it, and as TOML lines: the one account of it, for screen, sheet and project."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.board.kinds.kind import Use
from mixer.board.wiring.divider import Divider, divider_of
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.given import printed
from mixer.board.wiring.wires import Wire
from mixer.profile.read.lines import KeyPath

RECEIVER_V = 5.0
FIVE_VOLTS = "instead through 10 kΩ, with 18 kΩ to ground"
"""The divider by which a receiver of `RECEIVER_V` does not hurt a pin of 3.3 V: it sees 3.2 V."""


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
    """What it carries or wants, and what belongs there."""
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
    if wire.use == Use.BATTERY:
        return _divider_words(divider_of(wiring), wiring.board.volts)
    if wire.use == Use.SERVO:
        output = wiring.robot.output[str(wire.key[1])]
        return f"pulse {output.low_us}/{output.centre_us}/{output.high_us} µs every 20 ms"
    return {
        Use.CHANNEL: "receiver's pulse",
        Use.PULSE_SUM: f"{wiring.channels} pulses, one after the other",
        Use.CONTACT: "switch to ground, pulled up inside",
        Use.DUTY: f"PWM input of a bridge, {wire.top} counts",
        Use.DIRECTION: "direction input, high is backward",
        Use.SERIAL_OUT: f"{wiring.baud} baud, 8N1",
        Use.TICK: "high while a tick works",
    }[wire.use]


def _divider_words(divider: Divider | None, volts: float) -> str:
    if divider is None:
        return "behind a divider"
    upper, lower = f"{divider.upper_kohm:g} kΩ", f"{divider.lower_kohm:g} kΩ"
    full = f"{divider.full_scale_mv / 1000:g} V give {volts:g} V"
    return f"{upper} to battery plus, {lower} and 100 nF to ground: {full}"


def levels_of(wiring: Wiring) -> Iterator[str]:
    """What holds for all wires of a kind: volts, and what stands between, one sentence each."""
    volts, fives = f"{wiring.board.volts:g} V", ""
    if wiring.board.volts < RECEIVER_V:
        fives = f"; from a receiver of {RECEIVER_V:g} V {FIVE_VOLTS}"
    yield f"Outputs give 0 or {volts}. Each has 10 kΩ to ground at the input that it drives, for resets."
    yield f"Inputs take 0 to {volts}. Each receiver wire goes through 1 kΩ{fives}."
    yield f"Supply: {wiring.board.supply}."
    yield "Ground: board, receiver, controllers and battery minus at one point, before any signal."


def left_out_words(wiring: Wiring) -> Iterator[str]:
    """What found no pin, one sentence each."""
    for wire in wiring.left_out:
        what = (
            "the battery is not measured" if wire.use == Use.BATTERY else "there is no tick pin for a scope"
        )
        yield f"no pin is free for it: {what}"


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
