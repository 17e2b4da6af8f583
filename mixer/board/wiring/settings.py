"""Every number of a wiring that the firmware is built with: for wiring.h, its fingerprint, and people.

What stands here is what wiring.h says, number by number and no more; so two boards with equal wiring
fingerprints read and drive their pins alike.
"""

import hashlib
import json
from collections.abc import Iterator
from typing import NamedTuple

from mixer.board.kinds.kind import NO_PIN, Use
from mixer.board.wiring.divider import divider_of
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.given import printed
from mixer.board.wiring.wires import Wire
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.schema.outputs import Output

NO_WIRE = "none"
_KINDS = {
    "OUTPUT_PULSE": "a servo pulse",
    "OUTPUT_DUTY": "duty and direction",
    "OUTPUT_BRIDGE": "two duties",
}
"""What an output's wires carry, by the name that config.h has for it."""


class Setting(NamedTuple):
    """One number, or one of a list."""

    macro: str
    """Its name in wiring.h; the numbers of a list have the same, in their order."""
    number: str
    """As C reads it."""
    what: str
    """What it is, for people: ``pin of channel 2``."""
    said: str
    """The number for people: ``GP4``."""


def settings_of(wiring: Wiring) -> tuple[Setting, ...]:
    """All of them, in the order of wiring.h."""
    return (*_inputs(wiring), *_outputs(wiring), *_rest(wiring))


def fingerprint_of(wiring: Wiring) -> str:
    """Twelve hex digits of SHA-256 over every setting: equal wirings, equal fingerprints."""
    told = [(setting.macro, setting.number) for setting in settings_of(wiring)]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:12]


def said_of(wiring: Wiring) -> dict[str, str]:
    """What is what, for people: two wirings are compared by these."""
    return {setting.what: setting.said for setting in settings_of(wiring)}


def _inputs(wiring: Wiring) -> Iterator[Setting]:
    one_wire = wiring.robot.receiver.wire == "pulse-sum"
    yield Setting("WIRING_BOARD", wiring.board.name, "board", wiring.board.name)
    yield _count("CHANNELS", wiring.channels, "receiver channels")
    yield Setting(
        "PULSE_SUM",
        str(int(one_wire)),
        "wires of the receiver",
        "one for all" if one_wire else "each its own",
    )
    if one_wire:
        yield _pin(wiring, "CHANNEL_PINS", ("receiver", "pin"), "pin of the receiver")
    else:
        yield from _numbered(wiring, "CHANNEL_PINS", Use.CHANNEL, wiring.channels)
    yield _count("CONTACTS", wiring.contacts, "contacts")
    yield from _numbered(wiring, "CONTACT_INPUT_PINS", Use.CONTACT, wiring.contacts)


def _outputs(wiring: Wiring) -> Iterator[Setting]:
    outputs = wiring.robot.output
    yield _count("OUTPUTS", len(outputs), "outputs")
    for name, output in outputs.items():
        kind = _kind(output)
        yield Setting("OUTPUT_KINDS", kind, f"wire of {name}", _KINDS[kind])
        yield _pin(wiring, "OUTPUT_PINS", ("output", name, "pin"), f"pin of {name}")
        second = ("output", name, "direction_pin")
        yield _pin(wiring, "OUTPUT_DIRECTION_PINS", second, f"second pin of {name}")
        yield _count("OUTPUT_TOPS", output.top if output.wire == "duty" else 0, f"full duty of {name}")
    for name, planned in zip(outputs, plan_of(wiring.robot, "").outputs, strict=True):
        yield _count("OUTPUT_RESTS", planned.rest, f"{name} at rest")
        brakes = outputs[name].at_zero == "brake"
        yield Setting("OUTPUT_BRAKES", str(int(brakes)), f"{name} at zero", "brake" if brakes else "coast")


def _rest(wiring: Wiring) -> Iterator[Setting]:
    divider = divider_of(wiring)
    full = divider.full_scale_mv if divider else 0
    yield _pin(wiring, "BATTERY_PIN", ("battery", "pin"), "pin of the battery")
    yield Setting("BATTERY_FULL_SCALE_MV", str(full), "battery's full scale", f"{full / 1000:g} V")
    yield _pin(wiring, "SERIAL_PIN", ("serial",), "pin of the serial line")
    yield Setting("BAUD", f"{wiring.baud}UL", "serial line", f"{wiring.baud} baud")
    tick_ms = wiring.robot.robot.tick_ms
    yield Setting("FRAME_US", f"{tick_ms * 1000}UL", "tick", f"{tick_ms} ms")
    yield _pin(wiring, "TICK_PIN", ("tick",), "tick pin")


def _count(macro: str, count: int, what: str) -> Setting:
    return Setting(macro, str(count), what, str(count))


def _kind(output: Output) -> str:
    if output.wire == "pulse":
        return "OUTPUT_PULSE"
    return "OUTPUT_BRIDGE" if output.bridge == "two-inputs" else "OUTPUT_DUTY"


def _numbered(wiring: Wiring, macro: str, use: Use, count: int) -> Iterator[Setting]:
    """The pins of numbered wires in their order, a number without a wire among them."""
    wires = {wire.number: wire for wire in wiring.places if wire.use == use}
    for number in range(1, count + 1):
        yield _placed(wiring, macro, wires.get(number), f"pin of {use} {number}")


def _pin(wiring: Wiring, macro: str, key: tuple[str, ...], what: str) -> Setting:
    return _placed(wiring, macro, next((wire for wire in wiring.places if wire.key == key), None), what)


def _placed(wiring: Wiring, macro: str, wire: Wire | None, what: str) -> Setting:
    if wire is None:
        return Setting(macro, f"0x{NO_PIN:02X}", what, NO_WIRE)
    pin = wiring.places[wire]
    return Setting(macro, str(pin.number), what, printed(pin))
