"""The plan: a robot's profile as integers, the only thing the core sees.

`mixer.profile` makes plans from TOML; tests make them from random numbers. Every time is in ticks,
every command in Q14 (`ONE` = full), every pulse in whole microseconds. Names are there for messages
and never influence a number.

Invariants stand under the fields. `check_plan` (profile side) refuses a plan that breaks one.
"""

from dataclasses import dataclass, fields
from enum import IntEnum

from mixer.core.ops import ONE
from mixer.core.units import (
    Q14,
    ChannelAt,
    ContactAt,
    Level,
    Ms,
    OutputAt,
    Position,
    Q14PerTick,
    Q14PerUs,
    Q14Ticks,
    Sent,
    SourceAt,
    SwitchAt,
    Ticks,
    Us,
    WireNumber,
)


class Guard(IntEnum):
    """The states of the guard: whether outputs follow the sticks, and why not."""

    SEARCHING = 0
    """No signal yet since power-up."""
    RESTING = 1
    """Signal, but not armed."""
    LIVE = 2
    """Outputs follow the sticks."""
    STOPPED = 3
    """The signal was there and is lost."""
    FAULTED = 4
    """A latched fault; leaves only by disarming."""


class OverRange(IntEnum):
    """What a group does when the mix asks for more than full output."""

    CLIP = 0
    """Each output alone is held at full."""
    SCALE = 1
    """All outputs of the group shrink by the same factor, so their ratio stays."""
    YIELD = 2
    """A named source gives way until the others fit."""


class Wire(IntEnum):
    """What an output's wire carries."""

    PULSE = 0
    """A servo pulse in µs."""
    DUTY = 1
    """A signed duty count: sign is direction, magnitude is 0 to `span`."""


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """One wire from the receiver."""

    name: str
    good_low_us: Us
    good_high_us: Us
    """1 <= good_low_us < good_high_us <= 4000. Valid range and lost marks folded together."""
    rest_us: Us
    """What the channel stands at until the first good pulse."""
    median: bool
    """Whether the middle of the last three good pulses is used, against spikes."""
    receiver: WireNumber | None = None
    """Its number among the receiver's channels, from 1; None where it stands in its place."""


@dataclass(frozen=True, slots=True)
class ShapePlan:
    """How a stick's command is bent: deadband, expo, rate."""

    band: Q14
    """0 <= band < ONE."""
    gain: Q14
    """round(ONE * ONE / (ONE - band)): brings full stick back to full after the deadband."""
    expo: Q14
    """-ONE/2 <= expo <= ONE, where the cubic never turns back."""
    rate: Q14
    """0 < rate <= ONE."""


@dataclass(frozen=True, slots=True)
class StickPlan:
    """A continuous channel."""

    name: str
    channel: ChannelAt
    centre_us: Us
    low_span_us: Us
    high_span_us: Us
    """Spans are >= 0 and not both 0; a span of 0 makes a one-sided stick."""
    low_gain: Q14PerUs
    high_gain: Q14PerUs
    """round(ONE * ONE / span), or 0 where the span is 0."""
    reverse: bool
    trim: Q14
    shapes: tuple[ShapePlan, ...]
    """One shape, or one for each position of the switch `chooser`."""
    chooser: SwitchAt | None
    """The switch that chooses the shape; None where there is one shape."""
    flips: bool
    """Whether this stick's command is negated while the robot lies upside down."""


@dataclass(frozen=True, slots=True)
class SwitchPlan:
    """A channel with two or three positions, numbered from 0 at the low end of the pulse."""

    name: str
    channel: ChannelAt
    edges_us: tuple[Us, ...]
    """One edge for two positions, two (rising) for three."""
    hysteresis_us: Us
    """Half the width of the band around an edge in which the position stays as it was."""
    reverse: bool
    position_names: tuple[str, ...]
    """As many as positions, in the order of their numbers."""


@dataclass(frozen=True, slots=True)
class ContactPlan:
    """A digital input of the board, such as an end-stop switch."""

    name: str
    closed_reads: Level
    """0 or 1: the level read while the contact is made (the end is reached)."""
    release_ticks: Ticks
    """How long it must read open before it counts as open; closing counts at once."""
    input: WireNumber | None = None
    """Its number among the board's contacts, from 1; None where it stands in its place."""

    def level(self, *, closed: bool) -> int:
        """What is read while the contact is closed, or open."""
        return self.closed_reads if closed else 1 - self.closed_reads


@dataclass(frozen=True, slots=True)
class SwitchPosition:
    """One position of one switch."""

    switch: SwitchAt
    position: Position


@dataclass(frozen=True, slots=True)
class FlipPlan:
    """Where the robot learns that it lies upside down."""

    told_by: SwitchPosition | ContactAt
    """What means upside down: a switch standing there, or a contact that is closed."""
    settle_ticks: Ticks
    """>= 1: how long the other reading must last before it is believed."""


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """Outputs that share one over-range policy."""

    name: str
    outputs: tuple[OutputAt, ...]
    policy: OverRange
    yielding: SourceAt | None
    """The source that gives way; None when the policy is not YIELD."""


@dataclass(frozen=True, slots=True)
class OutputPlan:
    """One motor channel."""

    name: str
    weights: tuple[Q14, ...]
    """One for each source, each within ±2 ONE, their magnitudes summing to at most 4 ONE."""
    gain: Q14
    """0 < gain <= 2 ONE."""
    limit: Q14
    """0 < limit <= ONE."""
    breakaway: Q14
    """0 <= breakaway < ONE."""
    up_step: Q14PerTick
    down_step: Q14PerTick
    """1 <= step <= ONE: the most a tick may add to, or take from, the command's magnitude."""
    pause_ticks: Ticks
    """How long the output rests at zero before it reverses."""
    wire: Wire
    reverse: bool
    rest: Sent
    """The wire's value at zero command: µs for PULSE, 0 for DUTY."""
    low_span: Sent
    high_span: Sent
    """What full reverse and full forward subtract from and add to `rest`; 0 to 16383."""
    brake: bool
    """Whether a resting bridge shorts the motor (brake) or lets it turn (coast); DUTY only."""

    @property
    def slews(self) -> bool:
        """Whether the output's speed of change is limited at all."""
        return self.up_step < ONE or self.down_step < ONE or self.pause_ticks > 0


@dataclass(frozen=True, slots=True)
class ActuatorPlan:
    """An output with travel and end-stop switches. Positive commands extend."""

    name: str
    output: OutputAt
    out_stop: ContactAt | None
    in_stop: ContactAt | None
    """Contacts closed when fully extended and fully retracted; None where the firmware sees none."""
    both_ticks: Ticks
    """>= 1: how long both stops must be closed before that is a fault."""
    travel_limit: Q14Ticks | None
    """Sum of the command over ticks after which a stop must have been met, < 2**30; None: not watched."""
    stops_robot: bool
    """Whether both stops closed stops the whole robot, or only this actuator."""


@dataclass(frozen=True, slots=True)
class GuardPlan:
    """When outputs follow the sticks."""

    lost_ticks: Ticks
    """>= 1: a channel with no good pulse for this long is lost."""
    hold_ticks: Ticks
    """>= 1: how long every stick must rest at neutral before the robot goes live."""
    neutral_within: Q14
    """A command no larger than this is neutral."""
    arm: SwitchPosition | None
    """Where the arm switch is on; None: there is none, the robot arms by resting at neutral."""
    resumes: bool
    """After a loss: go on once the sticks rest at neutral, without the arm switch seen off again."""
    ramps: bool
    """Stop by the outputs' own slew instead of at once; a fault always stops at once."""
    off_ticks: Ticks = 1
    """>= 1: pulses must read the arm switch off for so long before that counts as done by hand."""

    @property
    def arm_switch(self) -> SwitchAt | None:
        """The arm switch, where there is one."""
        return None if self.arm is None else self.arm.switch


class _HashedOnce:
    """Room for a hash beside the fields: it is neither compared nor pickled."""

    __slots__ = ("_hash",)
    _hash: int


@dataclass(frozen=True, slots=True)
class Plan(_HashedOnce):
    """Everything the core needs to know about one robot in one loadout."""

    name: str
    tick_ms: Ms
    channels: tuple[ChannelPlan, ...]
    """1 to 16."""
    sticks: tuple[StickPlan, ...]
    switches: tuple[SwitchPlan, ...]
    mixed_switches: tuple[SwitchAt, ...]
    """Switches that feed the mix, after the sticks: sources = sticks + these."""
    contacts: tuple[ContactPlan, ...]
    flip: FlipPlan | None
    groups: tuple[GroupPlan, ...]
    """Disjoint. An output in no group clips alone."""
    outputs: tuple[OutputPlan, ...]
    """1 to 24."""
    actuators: tuple[ActuatorPlan, ...]
    """At most 8; several on one output move together, and what stops one stops all of them."""
    guard: GuardPlan

    def __hash__(self) -> int:
        """Worked out once: what is kept for a plan, such as its layout, is looked up in every tick."""
        if not hasattr(self, "_hash"):
            parts = tuple(getattr(self, field.name) for field in fields(self))
            object.__setattr__(self, "_hash", hash(parts))
        return self._hash

    @property
    def receivers(self) -> tuple[int, ...]:
        """The number of each channel's wire among those of the receiver, from 1."""
        return tuple(channel.receiver or place for place, channel in enumerate(self.channels, start=1))

    @property
    def contact_inputs(self) -> tuple[int, ...]:
        """The number of each contact's wire among those of the board, from 1."""
        return tuple(contact.input or place for place, contact in enumerate(self.contacts, start=1))

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of what the mix's weights refer to, in their order."""
        return tuple(stick.name for stick in self.sticks) + tuple(
            self.switches[index].name for index in self.mixed_switches
        )
