"""wiring.h: a wiring as the firmware's C reads it (`config.h` says what each line means)."""

from collections.abc import Iterable, Sequence

from mixer.board.kinds.kind import NO_PIN, Use
from mixer.board.project.filling import fill
from mixer.board.wiring.divider import divider_of
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.table import fingerprint_of
from mixer.core.plan import Plan
from mixer.lower.c.plain.names import comment_text

SERVO, DUTY, BRIDGE = "OUTPUT_PULSE", "OUTPUT_DUTY", "OUTPUT_BRIDGE"


def wiring_text(plan: Plan, wiring: Wiring) -> str:
    """The header's text. `plan` is of the same robot: it says what each wire carries at rest."""
    divider, outputs = divider_of(wiring), wiring.robot.output
    return fill(
        "wiring.h",
        robot=comment_text(plan.name),
        board=wiring.board.name,
        wiring=fingerprint_of(wiring),
        channels=str(wiring.channels),
        pulse_sum=str(int(wiring.robot.receiver.wire == "pulse-sum")),
        channel_pins=_list(_channel_pins(wiring)),
        contacts=str(wiring.contacts),
        contact_pins=_list(_numbered(wiring, Use.CONTACT, wiring.contacts) or [_spelled(NO_PIN)]),
        outputs=str(len(outputs)),
        names=comment_text(", ".join(outputs)),
        kinds=_list(_kind(wiring, name) for name in outputs),
        output_pins=_list(_number(wiring, "output", name, "pin") for name in outputs),
        direction_pins=_list(_number(wiring, "output", name, "direction_pin") for name in outputs),
        tops=_list(str(output.top if output.wire == "duty" else 0) for output in outputs.values()),
        rests=_list(str(output.rest) for output in plan.outputs),
        brakes=_list(str(int(output.at_zero == "brake")) for output in outputs.values()),
        battery_pin=_number(wiring, "battery", "pin"),
        full_scale=str(divider.full_scale_mv if divider else 0),
        serial_pin=_number(wiring, "serial"),
        tick_pin=_number(wiring, "tick"),
        frame_us=str(plan.tick_ms * 1000),
        baud=str(wiring.baud),
    )


def _kind(wiring: Wiring, name: str) -> str:
    output = wiring.robot.output[name]
    if output.wire == "pulse":
        return SERVO
    return BRIDGE if output.bridge == "two-inputs" else DUTY


def _channel_pins(wiring: Wiring) -> Sequence[str]:
    if wiring.robot.receiver.wire == "pulse-sum":
        return [_number(wiring, "receiver", "pin")]
    return _numbered(wiring, Use.CHANNEL, wiring.channels)


def _numbered(wiring: Wiring, use: Use, count: int) -> list[str]:
    """The pins of numbered wires in their order; of numbers without a wire, none."""
    pins = {wire.number: str(pin.number) for wire, pin in wiring.places.items() if wire.use == use}
    return [pins.get(number, _spelled(NO_PIN)) for number in range(1, count + 1)]


def _number(wiring: Wiring, *key: str) -> str:
    found = (str(pin.number) for wire, pin in wiring.places.items() if wire.key == key)
    return next(found, _spelled(NO_PIN))


def _spelled(number: int) -> str:
    return f"0x{number:02X}"


def _list(items: Iterable[str]) -> str:
    return f"{{ {', '.join(items)} }}"
