"""Sections for the robot as a whole and its guard."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from mixer.profile.schema.base import Section

Title = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9 _.\-]*$", max_length=60)]


class About(Section):
    """The robot as a whole."""

    name: Title
    """the robot's name: letters, digits, spaces, - _ and ."""
    about: Annotated[str, StringConstraints(max_length=500)] = ""
    """one sentence for the reader"""
    tick_ms: Annotated[int, Field(ge=1, le=20)] = 2
    """time between two runs of the firmware, in whole ms → stop promise"""
    board: Literal["atmega328p", "rp2040"] | None = None
    """the board that runs the mix, "atmega328p" or "rp2040": it says what every pin of this file is"""


class Arm(Section):
    """The switch that arms the robot."""

    switch: str
    """name of the arm switch → going live"""
    position: str = "on"
    """the position that arms → going live"""


class GuardSection(Section):
    """When outputs follow the sticks, and how soon they stop."""

    lost_after_ms: Annotated[float, Field(gt=0, le=10_000)] = 250.0
    """a channel without a good pulse for this long is lost, in ms → stop promise, lost signal"""
    stop_within_ms: Annotated[float, Field(gt=0, le=60_000)] | None = None
    """the promise: all outputs at zero this long after the last good pulse, in ms → stop promise"""
    stop: Literal["cut", "ramp"] = "cut"
    """"cut" goes to zero at once, "ramp" by each output's slew_down_ms → stop promise"""
    arm: Arm | None = None
    """{ switch = "arm", position = "on" }, or leave it out to arm by resting at neutral → going live"""
    arm_off_ms: Annotated[float, Field(ge=0, le=10_000)] = 100.0
    """how long the arm switch must be seen off before arming counts as a hand's, in ms → going live"""
    arm_hold_ms: Annotated[float, Field(ge=0, le=10_000)] = 500.0
    """how long all sticks must rest at neutral before going live, in ms → going live"""
    neutral_within: Annotated[float, Field(ge=0, le=0.3)] = 0.06
    """a stick no further out than this share of full is at neutral → going live, creep"""
    after_loss: Literal["re-arm", "resume"] = "re-arm"
    """"re-arm": the arm switch must be seen off again; "resume": neutral sticks are enough → going live"""
