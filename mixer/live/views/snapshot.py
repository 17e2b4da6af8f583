"""What a screen may know: one frozen picture of the running robot, newest wins.

Commands are Q14 integers (`ONE` = full stick or full output, +-), pulses whole µs, times ms or s as the
names say. Tuples follow the plan's order, which only changes when `plan_revision` does. Nothing in a
snapshot refers to anything that can change.
"""

from dataclasses import dataclass, field

from mixer.live.views.status import CostView, LinkView, RuleView, TransportView, TuningView


@dataclass(frozen=True, slots=True)
class ChannelView:
    """One wire from the receiver."""

    name: str
    pulse_us: int
    """The pulse the firmware stands at (the last good one while a gap is bridged)."""
    arrived_us: int
    """The newest pulse that came at all, good or not; 0 = none yet."""
    age_ms: int
    """Since the last good pulse; stops counting at the plan's `lost_after_ms`."""
    good: bool
    """The newest pulse lay within what is valid."""
    missing: bool
    """No good pulse for longer than one and a half frames: the gap is being bridged."""
    lost: bool
    """No good pulse for `lost_after_ms`: the firmware counts the channel as gone."""
    low_us: int
    """Shortest and longest pulse that counts as good."""
    high_us: int


@dataclass(frozen=True, slots=True)
class SourceView:
    """One source of the mix: a stick, or a mixed switch (which has scaled = shaped = command)."""

    name: str
    channel: str
    kind: str
    """``stick`` or ``switch``."""
    scaled: int
    shaped: int
    """After deadband, expo and rate."""
    command: int
    """What enters the mix (after the flip)."""
    shape: str
    """Name of the shape in use; empty for a switch or an unshaped stick."""


@dataclass(frozen=True, slots=True)
class SwitchView:
    """One switch, mixed or not."""

    name: str
    channel: str
    position: int
    positions: tuple[str, ...]
    arms: bool
    """Whether it is the arm switch."""


@dataclass(frozen=True, slots=True)
class Held:
    """One thing that keeps an output from what the mix asked for."""

    kind: str
    """``over-range``, ``guard``, ``limit``, ``interlock``, ``pause``, ``slew``."""
    words: str
    """One line for a builder: which stop, which policy, how far."""


@dataclass(frozen=True, slots=True)
class OutputView:
    """One motor channel, stage after stage."""

    name: str
    mixed: int
    """May exceed `ONE`."""
    blended: int
    """After the group's over-range policy."""
    wanted: int
    """After gain, breakaway and limit; 0 unless the guard is live."""
    command: int
    """After interlock, pause and slew: what the motor gets."""
    wire: int
    unit: str
    """Of `wire`: ``µs``, or ``/ 255`` for a signed duty count with that top."""
    limit: int
    """The most |command| may be."""
    group: str
    held: tuple[Held, ...]
    """What holds it back now; empty when nothing does."""


@dataclass(frozen=True, slots=True)
class GuardView:
    """Whether outputs follow the sticks, and why not."""

    state: str
    """``searching``, ``resting``, ``live``, ``stopped``, ``faulted``."""
    why: tuple[str, ...]
    """What keeps it from being live; empty while it is."""
    signal: bool
    neutral: bool
    armed: bool
    """The arm switch is on (true when there is none)."""
    fault: bool
    arming: float
    """How much of `arm_hold_ms` has passed, 0 to 1."""


@dataclass(frozen=True, slots=True)
class ContactView:
    """One digital input."""

    name: str
    reading: int
    """The level on the wire, after injected faults."""
    closed: bool
    """What the firmware makes of it, after debouncing."""


@dataclass(frozen=True, slots=True)
class ActuatorView:
    """One output with travel and end stops. Positive commands extend."""

    name: str
    output: str
    position: float
    """Where the screw is, 0 (in) to 1 (out)."""
    position_mm: float | None
    travel_mm: float | None
    out_stop: str
    """Name of the contact, empty where the firmware sees none."""
    in_stop: str
    out_closed: bool
    in_closed: bool
    blocked_out: bool
    """The firmware does not let it extend (retract) now."""
    blocked_in: bool
    fault: bool
    """Both stops closed for too long, now."""


@dataclass(frozen=True, slots=True)
class WheelView:
    """One wheel on the floor, robot axes: x forward, y left, in m."""

    name: str
    output: str
    x_m: float
    y_m: float
    angle_rad: float
    """Where it drives towards, 0 = forward."""
    radius_m: float
    force_n: float
    """Push of the tyre along `angle_rad`."""
    speed_mps: float
    slipping: bool


@dataclass(frozen=True, slots=True)
class PhysicsView:
    """What the physics says. Floor axes: x to the right of the screen, y up it, heading 0 along x."""

    x_m: float
    y_m: float
    heading_rad: float
    speed_mps: float
    """Along the robot's nose, signed."""
    turn_radps: float
    wheels: tuple[WheelView, ...]
    output_a: tuple[float, ...]
    """Amperes of each output, in the plan's order."""
    battery_v: float
    battery_a: float
    charge: float
    """Share left, 0 to 1."""
    cut: bool
    """Whether the low-voltage stop has cut the drives."""
    winding_c: tuple[float | None, ...]
    """Hottest winding of each output; None without thermal data."""
    winding_limit_c: tuple[float | None, ...]
    hottest: int
    """Index of the output nearest to its winding limit; -1 without thermal data."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The whole robot at the end of one tick."""

    revision: int
    """One more with every snapshot that differs; equal revisions need no repaint."""
    plan_revision: int
    """One more whenever names, order or numbers of the plan changed."""
    robot: str
    loadout: str
    time_s: float
    tick: int
    tick_ms: int
    channels: tuple[ChannelView, ...]
    sources: tuple[SourceView, ...]
    switches: tuple[SwitchView, ...]
    outputs: tuple[OutputView, ...]
    guard: GuardView
    flipped: bool
    contacts: tuple[ContactView, ...]
    actuators: tuple[ActuatorView, ...]
    physics: PhysicsView | None
    """None where the profile has no motor, battery and chassis data."""
    rules: tuple[RuleView, ...]
    faults: tuple[str, ...]
    """Keys of the injected faults."""
    link: LinkView
    transport: TransportView
    tuning: TuningView
    cost: CostView
    event_count: int
    """Events so far; the log itself is `Session.events`."""
    trail: tuple[tuple[float, float], ...] = field(default=(), repr=False)
    """Where the robot has been (m), oldest first, at most a few hundred points."""
