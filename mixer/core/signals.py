"""What a tick reads, remembers and gives: every number has a field here, and is read by it.

    after = tick(plan, inputs, state)
    after.signals.outputs[0].wire

The shapes are generic in what the numbers are: ints while the firmware runs, symbols while it is traced,
rows of arrays over many scenarios, terms of a solver, places in a flat row, names. A tuple stands in the
order of the plan's tuple of the same name. This is the one module that says what numbers there are; their
names, flat order, words, units and profile keys are all read off the annotations (`layout`).
"""

from typing import Annotated, Generic, NamedTuple, TypeVar

from mixer.core.units import Unit

V = TypeVar("V")
"""What stands for a number."""


class Meaning(NamedTuple):
    """One number: what it is in the trade's words, what it counts, and the profile keys that make it so."""

    words: str
    unit: Unit
    keys: tuple[str, ...] = ()
    """``{0}`` stands for the name of the stick, output, ... it belongs to."""


class Family(NamedTuple):
    """The first word of the names of a group's numbers; the second is the name the plan gives it."""

    word: str


_VALID = ("receiver.valid_us",)
_ENDS = ("stick.{0}.low_us", "stick.{0}.centre_us", "stick.{0}.high_us", "stick.{0}.trim")
_EDGES = ("switch.{0}.low_us", "switch.{0}.high_us", "switch.{0}.hysteresis_us")
_DEBOUNCE = ("contact.{0}.debounce_ms",)
_SETTLE = ("flip.settle_ms",)
_BOTH = ("actuator.{0}.both_closed_ms",)
_TRAVEL = ("actuator.{0}.full_travel_ms", "actuator.{0}.travel_margin")
_SLEWS = ("output.{0}.slew_up_ms", "output.{0}.slew_down_ms")
_SENT = ("output.{0}.low_us", "output.{0}.centre_us", "output.{0}.high_us", "output.{0}.top")


class ChannelSignals(NamedTuple, Generic[V]):
    """One wire from the receiver."""

    good: Annotated[V, Meaning("a good pulse came", Unit.FLAG, _VALID)]
    age: Annotated[V, Meaning("ticks since the last good pulse", Unit.TICKS, ("guard.lost_after_ms",))]
    pulse: Annotated[V, Meaning("pulse in use, µs", Unit.PULSE, _VALID)]


class SwitchSignals(NamedTuple, Generic[V]):
    """One switch."""

    position: Annotated[V, Meaning("position", Unit.POSITION, _EDGES)]


class ContactSignals(NamedTuple, Generic[V]):
    """One digital input of the board."""

    closed: Annotated[V, Meaning("closed", Unit.FLAG, _DEBOUNCE)]


class FlipSignals(NamedTuple, Generic[V]):
    """Which way up the robot lies; 0 where it never turns over."""

    flipped: Annotated[V, Meaning("lies upside down", Unit.FLAG, _SETTLE)]


class StickSignals(NamedTuple, Generic[V]):
    """One stick, after each step of its shape."""

    scaled: Annotated[V, Meaning("stick travel as a command", Unit.COMMAND, _ENDS)]
    banded: Annotated[V, Meaning("after deadband", Unit.COMMAND, ("stick.{0}.shape", "shape.*.deadband"))]
    curved: Annotated[V, Meaning("after expo", Unit.COMMAND, ("stick.{0}.shape", "shape.*.expo"))]
    rated: Annotated[V, Meaning("after rate", Unit.COMMAND, ("stick.{0}.shape", "shape.*.rate"))]
    command: Annotated[V, Meaning("into the mix", Unit.COMMAND, ("flip.reverses",))]


class GuardSignals(NamedTuple, Generic[V]):
    """What the guard goes by, and where it stands."""

    signal: Annotated[V, Meaning("every channel has signal", Unit.FLAG)]
    neutral: Annotated[V, Meaning("every stick is at neutral", Unit.FLAG, ("guard.neutral_within",))]
    armed: Annotated[V, Meaning("arm switch on", Unit.FLAG)]
    fault: Annotated[V, Meaning("fault present", Unit.FLAG)]
    state: Annotated[V, Meaning("state", Unit.GUARD)]


class ActuatorSignals(NamedTuple, Generic[V]):
    """What an actuator is allowed now."""

    low: Annotated[V, Meaning("lowest command allowed", Unit.COMMAND, _TRAVEL)]
    high: Annotated[V, Meaning("highest command allowed", Unit.COMMAND, _TRAVEL)]
    fault: Annotated[V, Meaning("both end stops closed", Unit.FLAG, _BOTH)]


class OutputSignals(NamedTuple, Generic[V]):
    """One motor channel, from the mix to its wire."""

    mixed: Annotated[V, Meaning("after the mix", Unit.COMMAND, ("output.{0}.mix",))]
    blended: Annotated[V, Meaning("within range", Unit.COMMAND, ("output.{0}.mix", "group.*.over_range"))]
    gained: Annotated[V, Meaning("after gain", Unit.COMMAND, ("output.{0}.gain",))]
    started: Annotated[V, Meaning("after breakaway", Unit.COMMAND, ("output.{0}.breakaway",))]
    limited: Annotated[V, Meaning("after limit", Unit.COMMAND, ("output.{0}.limit",))]
    wanted: Annotated[V, Meaning("before slew", Unit.COMMAND, ("output.{0}.limit",))]
    command: Annotated[V, Meaning("after slew", Unit.COMMAND, _SLEWS)]
    wire: Annotated[V, Meaning("on the wire", Unit.SENT, _SENT)]


class Signals(NamedTuple, Generic[V]):
    """Every number of a tick worth showing, in the order in which one follows from the other."""

    channels: Annotated[tuple[ChannelSignals[V], ...], Family("channel")]
    switches: Annotated[tuple[SwitchSignals[V], ...], Family("switch")]
    contacts: Annotated[tuple[ContactSignals[V], ...], Family("contact")]
    flip: Annotated[FlipSignals[V], Family("flip")]
    sticks: Annotated[tuple[StickSignals[V], ...], Family("stick")]
    guard: Annotated[GuardSignals[V], Family("guard")]
    actuators: Annotated[tuple[ActuatorSignals[V], ...], Family("actuator")]
    outputs: Annotated[tuple[OutputSignals[V], ...], Family("output")]


class ChannelState(NamedTuple, Generic[V]):
    """What is remembered of a channel."""

    age: Annotated[V, Meaning("ticks since the last good pulse", Unit.TICKS, ("guard.lost_after_ms",))]
    pulse: Annotated[V, Meaning("pulse in use, µs", Unit.PULSE, _VALID)]
    newer: Annotated[V | None, Meaning("last good pulse, µs", Unit.PULSE, _VALID)]
    older: Annotated[V | None, Meaning("good pulse before the last, µs", Unit.PULSE, _VALID)]
    """Both None where no median is taken."""


class SwitchState(NamedTuple, Generic[V]):
    """What is remembered of a switch."""

    position: Annotated[V, Meaning("position", Unit.POSITION, _EDGES)]


class ContactState(NamedTuple, Generic[V]):
    """What is remembered of a contact."""

    remaining: Annotated[V, Meaning("ticks until it counts as open", Unit.TICKS, _DEBOUNCE)]


class FlipState(NamedTuple, Generic[V]):
    """What is remembered of which way up the robot lies."""

    flipped: Annotated[V, Meaning("lies upside down", Unit.FLAG, _SETTLE)]
    waited: Annotated[V, Meaning("ticks the other reading has lasted", Unit.TICKS, _SETTLE)]


class GuardState(NamedTuple, Generic[V]):
    """What the guard remembers."""

    state: Annotated[V, Meaning("state", Unit.GUARD)]
    """One of `Guard`."""
    held: Annotated[V, Meaning("ticks ready for going live", Unit.TICKS, ("guard.arm_hold_ms",))]
    """Ticks for which everything needed for going live has held; stops at `hold_ticks`."""
    seen_off: Annotated[V, Meaning("arm switch seen off", Unit.FLAG)]
    """1 once the arm switch has been seen off (always 1 without an arm switch)."""
    off_for: Annotated[V, Meaning("ticks the arm switch has read off", Unit.TICKS, ("guard.arm_off_ms",))]
    """Without a break; stops at `off_ticks`."""


class ActuatorState(NamedTuple, Generic[V]):
    """What the interlock remembers of an actuator."""

    both: Annotated[V, Meaning("ticks both end stops are closed", Unit.TICKS, _BOTH)]
    latched: Annotated[V, Meaning("fault latched", Unit.FLAG)]
    driven: Annotated[V, Meaning("driven without meeting a stop", Unit.WAY, _TRAVEL)]


class OutputState(NamedTuple, Generic[V]):
    """What the drive stage remembers of an output."""

    command: Annotated[V, Meaning("after slew", Unit.COMMAND, _SLEWS)]
    """The command of the last tick."""
    pause: Annotated[
        V,
        Meaning(
            "ticks of pause left, sign of the last direction",
            Unit.TICKS,
            ("output.{0}.reversal_pause_ms",),
        ),
    ]
    """Signed ticks until the opposite direction is allowed; its sign is the last direction."""


class State(NamedTuple, Generic[V]):
    """Everything that is remembered from one tick to the next."""

    channels: Annotated[tuple[ChannelState[V], ...], Family("channel")]
    switches: Annotated[tuple[SwitchState[V], ...], Family("switch")]
    contacts: Annotated[tuple[ContactState[V], ...], Family("contact")]
    flip: Annotated[FlipState[V] | None, Family("flip")]
    """None where the robot never turns over."""
    guard: Annotated[GuardState[V], Family("guard")]
    actuators: Annotated[tuple[ActuatorState[V], ...], Family("actuator")]
    outputs: Annotated[tuple[OutputState[V], ...], Family("output")]


class Inputs(NamedTuple, Generic[V]):
    """What reaches the board within a tick."""

    channels: Annotated[tuple[V, ...], Family("channel")]
    """For each channel the pulse in µs measured since the last tick, 0 when none came."""
    contacts: Annotated[tuple[V, ...], Family("contact")]
    """For each contact the level read, 0 or 1."""
