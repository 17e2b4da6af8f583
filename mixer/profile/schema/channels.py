"""Sections for what comes in: receiver, sticks, switches, shapes, flip."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from mixer.profile.schema.base import Milliseconds, Name, Names, Pin, PulseUs, Section

LINEAR = "linear"
"""The built-in shape: command = stick."""

ReceiverNumber = Annotated[int, Field(ge=1, le=16)]


class Receiver(Section):
    """What is the same for all channels."""

    frame_ms: Annotated[float, Field(ge=1, le=100)] = 20.0
    """time between two pulses of one channel in ms → good pulses"""
    valid_us: Annotated[tuple[PulseUs, PulseUs], Field(strict=False)] = (800, 2200)
    """the shortest and the longest pulse that can be meant, in µs → good pulses"""
    median: bool = False
    """true to use the middle one of the last three pulses, against spikes → good pulses"""
    wire: Literal["channels", "pulse-sum"] = "channels"
    """"channels" for a wire from each channel to the board, "pulse-sum" for all channels on one wire"""
    pin: Pin | None = None
    """the board's pin for the one wire of wire = "pulse-sum"; left out, one is assigned"""
    channels: ReceiverNumber | None = None
    """how many channels come one after the other on the pulse-sum wire, used or not: a train of
    another length is refused; left out, 8, or the highest that is used"""


class Channel(Section):
    """What sticks and switches have in common."""

    receiver: ReceiverNumber
    """number of the receiver's channel"""
    pin: Pin | None = None
    """the board's pin for this channel's wire; left out, one is assigned"""
    low_us: PulseUs = 1000
    """pulse in µs at the low end → response"""
    high_us: PulseUs = 2000
    """pulse in µs at the high end → response"""
    reverse: bool = False
    """true to exchange the ends → response"""
    lost_below_us: PulseUs | None = None
    """pulses shorter than this are the receiver saying "no signal", in µs → good pulses, lost signal"""
    lost_above_us: PulseUs | None = None
    """pulses longer than this are the receiver saying "no signal", in µs → good pulses, lost signal"""
    median: bool | None = None
    """true or false to differ from [receiver] median → good pulses"""


def _shape_choice(value: object) -> object:
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping) and value and all(isinstance(item, str) for item in value.values()):
        return dict(value)
    raise PydanticCustomError("shape_choice", "must name one shape, or one for each position of a switch")


_CHOICES = {
    "anyOf": [
        {"type": "string"},
        {"type": "object", "minProperties": 1, "additionalProperties": {"type": "string"}},
    ]
}
ShapeChoice = Annotated[str | Mapping[str, str], PlainValidator(_shape_choice), WithJsonSchema(_CHOICES)]


class Stick(Channel):
    """A continuous channel."""

    centre_us: PulseUs = 1500
    """pulse in µs with the stick released → response, creep, going live"""
    trim: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    """added to the command, as a share of full → response, going live"""
    shape: ShapeChoice = LINEAR
    """a shape's name, or { switch = "pace", slow = "gentle", fast = "quick" } with one for each position →
    response, top speed, turn rate"""


class Switch(Channel):
    """A channel with two or three positions."""

    positions: Annotated[tuple[Name, ...], Field(strict=False, min_length=2, max_length=3)] = ("off", "on")
    """two or three names, the low end of the pulse first → response"""
    hysteresis_us: Annotated[int, Field(ge=0, le=1000)] = 40
    """how far past the middle between two positions the pulse must come to change over, in µs → response"""


class Shape(Section):
    """How a stick's command is bent."""

    deadband: Annotated[float, Field(ge=0, le=0.9)] = 0.0
    """share of the stick around its centre that does nothing → response, creep"""
    expo: Annotated[float, Field(ge=-0.5, le=1)] = 0.0
    """softness around the centre: 0 straight, 1 purely cubic, below 0 sharper → response"""
    rate: Annotated[float, Field(gt=0, le=1)] = 1.0
    """command at full stick, as a share of full → response, top speed, turn rate, sprint, stopping
    distance, half a turn"""


class Flip(Section):
    """Where the robot learns that it lies upside down: a switch's position, or a contact."""

    switch: str | None = None
    """the switch by which the driver says so"""
    position: str | None = None
    """the position of that switch that means upside down"""
    contact: str | None = None
    """the contact that closes upside down, instead of a switch"""
    settle_ms: Milliseconds = 100.0
    """how long the other reading must last before it is believed, in ms"""
    reverses: Annotated[Names, Field(min_length=1)]
    """the sticks that drive forward and back; those that turn stay as they are → response"""
