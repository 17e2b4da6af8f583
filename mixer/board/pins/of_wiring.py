"""A wiring's pins, in the order of the plan."""

from collections.abc import Mapping

from mixer.board.kinds.kind import Use
from mixer.board.pins.wires import OutputPins, Pins, Shape
from mixer.board.wiring.divider import divider_of
from mixer.board.wiring.fit import Wiring
from mixer.core.plan import OutputPlan, Plan, Wire
from mixer.profile.read.lines import KeyPath


def pins_of(wiring: Wiring, plan: Plan) -> Pins:
    """What somebody outside the chip has to know of a robot's wires. The wiring is of the same loadout."""
    named = {wire.key: pin.name for wire, pin in wiring.places.items()}
    train = next((pin.name for wire, pin in wiring.places.items() if wire.use == Use.PULSE_SUM), "")
    divider = divider_of(wiring)
    channel_pins = {key[1]: name for key, name in named.items() if key[0] in ("stick", "switch")}
    return Pins(
        channels=tuple(train or channel_pins[channel.name] for channel in plan.channels),
        contacts=tuple(named["contact", contact.name, "pin"] for contact in plan.contacts),
        outputs=tuple(_output(wiring, named, output) for output in plan.outputs),
        tick=named.get(("tick",), ""),
        train=wiring.channels if train else 0,
        slots=plan.receivers,
        contact_inputs=plan.contact_inputs,
        baud=wiring.baud,
        battery=named["battery", "pin"] if divider else "",
        battery_mv=divider.full_scale_mv if divider else 0,
        analog_mv=round(1000 * wiring.board.volts),
    )


def _output(wiring: Wiring, named: Mapping[KeyPath, str], output: OutputPlan) -> OutputPins:
    pin = named["output", output.name, "pin"]
    if output.wire == Wire.PULSE:
        return OutputPins(output.name, Shape.PULSE, pin, rest=output.rest)
    second = named["output", output.name, "direction_pin"]
    is_bridge = wiring.robot.output[output.name].bridge == "two-inputs"
    shape = Shape.BRIDGE if is_bridge else Shape.DUTY
    return OutputPins(output.name, shape, pin, second, 0, output.high_span, is_bridge and output.brake)
