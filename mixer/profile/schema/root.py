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
    """[robot] with at least a name: the robot as a whole"""
    receiver: Receiver = Receiver()
    """[receiver]: what is the same for all channels"""
    stick: dict[Name, Stick] = Field(default_factory=dict)
    """[stick.NAME]: a continuous channel, such as throttle"""
    switch: dict[Name, Switch] = Field(default_factory=dict)
    """[switch.NAME]: a channel with two or three positions"""
    shape: dict[Name, Shape] = Field(default_factory=dict)
    """[shape.NAME]: how a stick's command is bent; a stick chooses one, or a switch does"""
    flip: Flip | None = None
    """[flip]: where the robot learns that it lies upside down"""
    output: dict[Name, Output]
    """at least one [output.NAME]: one motor channel; it may feed several motors in parallel"""
    group: dict[Name, Group] = Field(default_factory=dict)
    """[group.NAME]: outputs that share one over-range policy"""
    contact: dict[Name, Contact] = Field(default_factory=dict)
    """[contact.NAME]: a digital input of the board, such as an end-stop switch"""
    actuator: dict[Name, Actuator] = Field(default_factory=dict)
    """[actuator.NAME]: an output with travel and end stops; positive commands extend"""
    guard: GuardSection = GuardSection()
    """[guard]: when outputs follow the sticks, and how soon they stop"""

    motor: dict[Name, Motor] = Field(default_factory=dict)
    """[motor.NAME]: a brushed motor, by data-sheet points at nominal volts or by its constants"""
    driver: dict[Name, Driver] = Field(default_factory=dict)
    """[driver.NAME]: what switches a motor's current"""
    battery: Battery | None = None
    """[battery]: the one pack"""
    chassis: Chassis | None = None
    """[chassis]: the machine on its wheels"""
    wheel: dict[Name, Wheel] = Field(default_factory=dict)
    """[wheel.NAME]: one wheel and the output that turns it"""
    skid: dict[Name, Skid] = Field(default_factory=dict)
    """[skid.NAME]: what rests on the floor without a wheel, carries weight and rubs"""
    lift: dict[Name, Lift] = Field(default_factory=dict)
    """[lift.NAME]: what actuators raise"""
    part: Annotated[tuple[Part, ...], Field(strict=False)] = ()
    """[[part]]: something that weighs"""
    match: Match = Match()
    """[match]: how long, and how hard, the robot is driven"""
