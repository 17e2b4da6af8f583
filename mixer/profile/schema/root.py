"""The whole robot: every section a profile may hold. What a section means stands in its own module."""

from typing import Annotated

from pydantic import Field

from mixer.profile.schema.base import Name, Section
from mixer.profile.schema.bodywork import Chassis, Lift, Match, Part, Skid, Wheel
from mixer.profile.schema.channels import Flip, Receiver, Shape, Stick, Switch
from mixer.profile.schema.guarding import About, GuardSection
from mixer.profile.schema.outputs import Actuator, Contact, Group, Output
from mixer.profile.schema.physical import Battery, Driver, Motor


class Robot(Section):
    """One robot in one loadout. Every thing stands under its name, in the order of the file."""

    robot: About
    """[robot] with at least a name"""
    receiver: Receiver = Receiver()
    stick: dict[Name, Stick] = Field(default_factory=dict)
    switch: dict[Name, Switch] = Field(default_factory=dict)
    shape: dict[Name, Shape] = Field(default_factory=dict)
    flip: Flip | None = None
    output: dict[Name, Output]
    """at least one [output.NAME]"""
    group: dict[Name, Group] = Field(default_factory=dict)
    contact: dict[Name, Contact] = Field(default_factory=dict)
    actuator: dict[Name, Actuator] = Field(default_factory=dict)
    guard: GuardSection = GuardSection()

    motor: dict[Name, Motor] = Field(default_factory=dict)
    driver: dict[Name, Driver] = Field(default_factory=dict)
    battery: Battery | None = None
    chassis: Chassis | None = None
    wheel: dict[Name, Wheel] = Field(default_factory=dict)
    skid: dict[Name, Skid] = Field(default_factory=dict)
    lift: dict[Name, Lift] = Field(default_factory=dict)
    part: Annotated[tuple[Part, ...], Field(strict=False)] = ()
    match: Match = Match()
