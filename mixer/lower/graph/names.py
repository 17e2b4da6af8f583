"""Names of signals and state slots in the trade's words, for messages and for comments in emitted code."""

from collections.abc import Mapping
from types import MappingProxyType

from mixer.core.plan import Plan, Wire

_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "channel.good": "a good pulse came",
        "channel.age": "ticks since the last good pulse",
        "channel.pulse": "pulse in use, µs",
        "channel.newer": "last good pulse, µs",
        "channel.older": "good pulse before the last, µs",
        "switch.position": "position",
        "contact.closed": "closed",
        "contact.remaining": "ticks until it counts as open",
        "flip.flipped": "lies upside down",
        "flip.waited": "ticks the other reading has lasted",
        "stick.scaled": "stick travel as a command",
        "stick.banded": "after deadband",
        "stick.curved": "after expo",
        "stick.rated": "after rate",
        "stick.command": "into the mix",
        "output.mixed": "after the mix",
        "output.blended": "within range",
        "output.wanted": "before slew",
        "output.command": "after slew",
        "output.wire": "on the wire",
        "output.pause": "ticks of pause left, sign of the last direction",
        "guard.signal": "every channel has signal",
        "guard.neutral": "every stick is at neutral",
        "guard.armed": "arm switch on",
        "guard.fault": "fault present",
        "guard.state": "state",
        "guard.held": "ticks ready for going live",
        "guard.seen_off": "arm switch seen off",
        "actuator.low": "lowest command allowed",
        "actuator.high": "highest command allowed",
        "actuator.fault": "both end stops closed",
        "actuator.both": "ticks both end stops are closed",
        "actuator.latched": "fault latched",
        "actuator.driven": "driven without meeting a stop",
    }
)


def trade_name(signal: str) -> str:
    """A signal or state slot in words: ``output.left_front.wanted`` -> ``left front, before slew``.

    Channels, switches and the like say what they are where the name alone would not; an unknown name
    comes back with dots and underscores as spaces.
    """
    family, _, rest = signal.partition(".")
    name, _, field = rest.rpartition(".")
    words = _WORDS.get(f"{family}.{field}")
    if words is None:
        return signal.replace(".", " ").replace("_", " ")
    if not name:
        return f"{family}, {words}"
    who = name.replace("_", " ")
    return f"{who}, {words}" if family in {"output", "stick", "actuator"} else f"{family} {who}, {words}"


_PULSES = ("low_us", "centre_us", "high_us")
_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "stick.scaled": ("stick.{0}.low_us", "stick.{0}.centre_us", "stick.{0}.high_us", "stick.{0}.trim"),
        "stick.banded": ("stick.{0}.shape", "shape.*.deadband"),
        "stick.curved": ("stick.{0}.shape", "shape.*.expo"),
        "stick.rated": ("stick.{0}.shape", "shape.*.rate"),
        "stick.command": ("flip.reverses",),
        "switch.position": ("switch.{0}.low_us", "switch.{0}.high_us", "switch.{0}.hysteresis_us"),
        "contact.closed": ("contact.{0}.debounce_ms",),
        "contact.remaining": ("contact.{0}.debounce_ms",),
        "channel.age": ("guard.lost_after_ms",),
        "channel.good": ("receiver.valid_us",),
        "channel.pulse": ("receiver.valid_us",),
        "channel.newer": ("receiver.valid_us",),
        "channel.older": ("receiver.valid_us",),
        "flip.flipped": ("flip.settle_ms",),
        "flip.waited": ("flip.settle_ms",),
        "guard.held": ("guard.arm_hold_ms",),
        "guard.neutral": ("guard.neutral_within",),
        "output.mixed": ("output.{0}.mix",),
        "output.blended": ("output.{0}.mix", "group.*.over_range"),
        "output.wanted": ("output.{0}.gain", "output.{0}.breakaway", "output.{0}.limit"),
        "output.command": ("output.{0}.slew_up_ms", "output.{0}.slew_down_ms"),
        "output.pause": ("output.{0}.reversal_pause_ms",),
        "actuator.both": ("actuator.{0}.both_closed_ms",),
        "actuator.fault": ("actuator.{0}.both_closed_ms",),
        "actuator.low": ("actuator.{0}.full_travel_ms", "actuator.{0}.travel_margin"),
        "actuator.high": ("actuator.{0}.full_travel_ms", "actuator.{0}.travel_margin"),
        "actuator.driven": ("actuator.{0}.full_travel_ms", "actuator.{0}.travel_margin"),
    }
)


def profile_keys(plan: Plan, signal: str) -> tuple[str, ...]:
    """The keys of a profile whose numbers make a signal or state slot what it is; empty where none does."""
    family, _, rest = signal.partition(".")
    name, _, field = rest.rpartition(".")
    if (family, field) == ("output", "wire"):
        duty = any(output.name == name and output.wire is Wire.DUTY for output in plan.outputs)
        return (f"output.{name}.top",) if duty else tuple(f"output.{name}.{key}" for key in _PULSES)
    return tuple(key.format(name) for key in _KEYS.get(f"{family}.{field}", ()))
