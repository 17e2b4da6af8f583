"""Names of signals and state slots in the trade's words, for messages and for comments in emitted code."""

from collections.abc import Mapping
from types import MappingProxyType

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
