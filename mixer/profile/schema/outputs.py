"""Sections for what goes out: outputs, groups, contacts, actuators."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, model_validator
from pydantic_core import PydanticCustomError

from mixer.profile.schema.base import Milliseconds, Name, Names, Positive, PulseUs, Section
from mixer.profile.schema.physical import Screw


def _pin(value: object) -> object:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 999:
        return value
    if isinstance(value, str) and 0 < len(value) <= 16 and value.isascii() and value.isalnum():
        return value
    raise PydanticCustomError("pin", "must be a pin's number or its name")


Pin = Annotated[int | str, PlainValidator(_pin)]
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
    mix: dict[str, Weight]
    """how much of each stick or switch it gets, such as { throttle = 1.0, steering = -0.8 }"""
    gain: Annotated[float, Field(gt=0, le=2)] = 1.0
    """multiplies the command, to make both sides run alike"""
    reverse: bool = False
    """true for a motor that turns the wrong way"""
    limit: Annotated[float, Field(gt=0, le=1)] = 1.0
    """the most this output ever gets, as a share of full"""
    breakaway: Annotated[float, Field(ge=0, lt=1)] = 0.0
    """the command at which the motor just starts to turn; anything but zero begins there"""
    slew_up_ms: Milliseconds = 0.0
    """time from zero to full in ms, 0 for at once"""
    slew_down_ms: Milliseconds = 0.0
    """time from full to zero in ms, 0 for at once"""
    reversal_pause_ms: Milliseconds = 0.0
    """rest at zero before the other direction, in ms"""
    wire: Literal["pulse", "duty"] = "pulse"
    """"pulse" for a speed controller with a servo wire, "duty" for a bridge on the board"""
    low_us: PulseUs = 1000
    """pulse in µs for full reverse"""
    centre_us: PulseUs = 1500
    """pulse in µs for stop"""
    high_us: PulseUs = 2000
    """pulse in µs for full forward"""
    top: Annotated[int, Field(ge=1, le=16383)] = 255
    """duty count that means full"""
    at_zero: Literal["coast", "brake"] | None = None
    """what bridge or controller does at zero: "coast" lets the motor turn, "brake" shorts it"""
    motors: Annotated[int, Field(ge=1, le=16)] = 1
    """how many motors hang on this output in parallel"""
    dead_motors: Annotated[tuple[Annotated[int, Field(ge=1, le=16)], ...], Field(strict=False)] = ()
    """which of them give nothing, counted from 1 in the order of its wheels: their wheels drag them"""
    motor: str | None = None
    """the [motor.NAME] that hangs on it"""
    driver: str | None = None
    """the [driver.NAME] that feeds it"""
    side: Literal["left", "right"] | None = None
    """the side of the robot it drives"""


class Group(Section):
    """Outputs that share one over-range policy."""

    outputs: Annotated[Names, Field(min_length=1)]
    """names of the outputs"""
    over_range: Literal["clip", "scale", "yield"] = "clip"
    """"clip" each alone, "scale" all by one factor, or "yield" one stick so that the others stay"""
    yields: str | None = None
    """the stick that gives way, with over_range = "yield" """


class Contact(Section):
    """A digital input of the board."""

    pin: Pin
    """the board's pin, a number such as 5 or a name such as "D5" """
    closed_reads: Annotated[int, Field(ge=0, le=1)] = 0
    """the level read while the contact is made: 0 against ground with a pull-up, else 1"""
    debounce_ms: Annotated[float, Field(ge=0, le=1000)] = 10.0
    """how long it must read open before it counts as open, in ms"""


class Actuator(Section):
    """An output with travel and end stops. Positive commands extend."""

    output: Name
    """the output that drives it"""
    out_stop: str | None = None
    """the contact closed when fully extended"""
    in_stop: str | None = None
    """the contact closed when fully retracted"""
    both_closed: Literal["stop-robot", "stop-actuator"] = "stop-actuator"
    """what both stops closed at once brings: "stop-robot" or "stop-actuator" """
    both_closed_ms: Annotated[float, Field(ge=0, le=10_000)] = 20.0
    """how long both must be closed to be a fault, in ms"""
    full_travel_ms: Annotated[float, Field(gt=0, le=600_000)] | None = None
    """time for the whole travel at full command, in ms"""
    travel_margin: Annotated[float, Field(ge=1, le=10)] = 1.5
    """how many times the travel may be driven without meeting a stop"""
    travel_mm: Positive | None = None
    """the way between the stops, in mm"""
    stops_in_circuit: bool = False
    """true where the end switches sit in the motor's own circuit with diodes, unseen by the board"""
    motor: str | None = None
    """the [motor.NAME] that turns the screw"""
    screw: Screw | None = None
    """the screw: { thread = "M6", friction = 0.2 } or diameter_mm, pitch_mm, starts"""
