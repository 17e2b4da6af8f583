"""Names of signals and state slots in the trade's words, for messages and for comments in emitted code."""

from mixer.core.layout import meaning_of, parted
from mixer.core.plan import Plan, Wire
from mixer.core.units import Unit


def trade_name(signal: str) -> str:
    """A signal or state slot in words: ``output.left_front.wanted`` -> ``left front, before slew``.

    Channels, switches and the like say what they are where the name alone would not; an unknown name
    comes back with dots and underscores as spaces.
    """
    meaning, (family, name, _) = meaning_of(signal), parted(signal)
    if meaning is None:
        return signal.replace(".", " ").replace("_", " ")
    if not name:
        return f"{family}, {meaning.words}"
    who = name.replace("_", " ")
    plain = family in {"output", "stick", "actuator"}
    return f"{who}, {meaning.words}" if plain else f"{family} {who}, {meaning.words}"


def profile_keys(plan: Plan, signal: str) -> tuple[str, ...]:
    """The keys of a profile whose numbers make a signal or state slot what it is; empty where none does."""
    meaning, (_, name, _) = meaning_of(signal), parted(signal)
    if meaning is None:
        return ()
    if meaning.unit is not Unit.SENT:
        return meaning.keys
    duty = any(output.name == name and output.wire is Wire.DUTY for output in plan.outputs)
    return tuple(key for key in meaning.keys if key.endswith(".top") == duty)
