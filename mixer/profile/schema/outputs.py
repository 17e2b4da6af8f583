"""Sections for what goes out: outputs, groups, contacts, actuators."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from mixer.profile.schema.base import Milliseconds, Name, Names, Pin, Positive, PulseUs, Section
from mixer.profile.schema.physical import Screw

Weight = Annotated[float, Field(ge=-2, le=2)]


class Output(Section):
    """One motor channel; it may feed several motors in parallel."""

    @model_validator(mode="before")
    @classmethod
    def _bridge_coasts(cls, given: Any) -> Any:  # noqa: ANN401 - whatever the file holds
        """A bridge on the board does what the firmware says; what a controller does its owner knows."""
        if isinstance(given, Mapping) and given.get("wire") == "duty" and "at_zero" not in given:
            return {**given, "at_zero": "coast"}
        return given

    pin: Pin
    """the board's pin, a number such as 5 or a name such as "D5" """
    direction_pin: Pin | None = None
    """the pin that says which way a duty drives, for wire = "duty"; left out, one is assigned"""
    bridge: Literal["direction", "two-inputs"] = "direction"
    """"direction" for a bridge with inputs for PWM and direction, "two-inputs" for one whose two inputs
    both take PWM (both low coasts, both high brakes): then direction_pin is its second input"""
    mix: dict[str, Weight]
    """how much of each stick or switch it gets, such as { throttle = 1.0, steering = -0.8 } → response,
    top speed, turn rate, travel time"""
    gain: Annotated[float, Field(gt=0, le=2)] = 1.0
    """multiplies the command, to make both sides run alike → response, pull aside, top speed, turn rate"""
    reverse: bool = False
    """true for a motor that turns the wrong way → wire"""
    limit: Annotated[float, Field(gt=0, le=1)] = 1.0
    """the most this output ever gets, as a share of full → response, top speed, turn rate, sprint, half a
    turn, standing push, stall current, travel time"""
    breakaway: Annotated[float, Field(ge=0, lt=1)] = 0.0
    """the command at which the motor just starts to turn; anything but zero begins there → response"""
    slew_up_ms: Milliseconds = 0.0
    """time from zero to full in ms, 0 for at once → slewing, sprint, half a turn, peak current"""
    slew_down_ms: Milliseconds = 0.0
    """time from full to zero in ms, 0 for at once → slewing, stop promise, stopping distance"""
    reversal_pause_ms: Milliseconds = 0.0
    """rest at zero before the other direction, in ms → reversal rest"""
    wire: Literal["pulse", "duty"] = "pulse"
    """"pulse" for a speed controller with a servo wire, "duty" for a bridge on the board → wire, stopping
    distance"""
    low_us: PulseUs = 1000
    """pulse in µs for full reverse → wire"""
    centre_us: PulseUs = 1500
    """pulse in µs for stop → wire"""
    high_us: PulseUs = 2000
    """pulse in µs for full forward → wire"""
    top: Annotated[int, Field(ge=1, le=16383)] = 255
    """duty count that means full → wire"""
    at_zero: Literal["coast", "brake"] | None = None
    """what bridge or controller does at zero: "coast" lets the motor turn, "brake" shorts it → stopping
    distance"""
    motors: Annotated[int, Field(ge=1, le=16)] = 1
    """how many motors hang on this output in parallel → top speed, standing push, typical current, stall
    current"""
    dead_motors: Annotated[tuple[Annotated[int, Field(ge=1, le=16)], ...], Field(strict=False)] = ()
    """which of them give nothing, counted from 1 in the order of its wheels: their wheels drag them →
    standing push, stall current, typical current"""
    motor: str | None = None
    """the [motor.NAME] that hangs on it → top speed, standing push, stall current"""
    driver: str | None = None
    """the [driver.NAME] that feeds it → stall current, peak current"""
    side: Literal["left", "right"] | None = None
    """the side of the robot it drives"""


class Group(Section):
    """Outputs that share one over-range policy."""

    outputs: Annotated[Names, Field(min_length=1)]
    """names of the outputs → response"""
    over_range: Literal["clip", "scale", "yield"] = "clip"
    """"clip" each alone, "scale" all by one factor, or "yield" one stick so that the others stay →
    response"""
    yields: str | None = None
    """the stick that gives way, with over_range = "yield" → response"""


class Contact(Section):
    """A digital input of the board."""

    pin: Pin
    """the board's pin, a number such as 5 or a name such as "D5" """
    closed_reads: Annotated[int, Field(ge=0, le=1)] = 0
    """the level read while the contact is made: 0 against ground with a pull-up, else 1 → vetoes"""
    debounce_ms: Annotated[float, Field(ge=0, le=1000)] = 10.0
    """how long it must read open before it counts as open, in ms → vetoes"""


class Actuator(Section):
    """An output with travel and end stops. Positive commands extend."""

    output: Name
    """the output that drives it"""
    out_stop: str | None = None
    """the contact closed when fully extended → vetoes"""
    in_stop: str | None = None
    """the contact closed when fully retracted → vetoes"""
    both_closed: Literal["stop-robot", "stop-actuator"] = "stop-actuator"
    """what both stops closed at once brings: "stop-robot" or "stop-actuator" → vetoes"""
    both_closed_ms: Annotated[float, Field(ge=0, le=10_000)] = 20.0
    """how long both must be closed to be a fault, in ms → vetoes"""
    full_travel_ms: Annotated[float, Field(gt=0, le=600_000)] | None = None
    """time for the whole travel at full command, in ms → vetoes"""
    travel_margin: Annotated[float, Field(ge=1, le=10)] = 1.5
    """how many times the travel may be driven without meeting a stop → vetoes"""
    travel_mm: Positive | None = None
    """the way between the stops, in mm → travel time, lift"""
    stops_in_circuit: bool = False
    """true where the end switches sit in the motor's own circuit with diodes, unseen by the board
    → vetoes"""
    motor: str | None = None
    """the [motor.NAME] that turns the screw, where its output names none → travel time, lift"""
    screw: Screw | None = None
    """the screw: { thread = "M6", friction = 0.2 } or diameter_mm, pitch_mm, starts → travel time, lift"""
