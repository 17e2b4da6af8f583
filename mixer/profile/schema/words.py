"""What a key's docstring says: what the key does, and after an arrow the figures that it moves."""

from collections.abc import Mapping
from dataclasses import dataclass

ARROW = "→"

UNITS: Mapping[str, str] = {
    "us": "µs", "ms": "ms", "s": "s", "minutes": "min", "m": "m", "mm": "mm", "deg": "°", "kg": "kg",
    "kgm2": "kg·m²", "kohm": "kΩ", "n": "N", "nm": "N·m", "v": "V", "a": "A", "ah": "Ah", "ohm": "Ω",
    "rpm": "1/min", "awg": "AWG", "c": "°C", "nm_per_a": "N·m/A", "k_per_w": "K/W",
}  # fmt: skip
"""The unit that the last words of a key's name stand for."""

FIGURES_OF: Mapping[str, tuple[str, ...]] = {
    "size": (
        "mass", "wheel loads", "centre of gravity", "top speed", "sprint", "stopping distance", "turn rate",
        "half a turn", "pull aside", "hardest stop", "standing push", "pushing speed", "motor volts",
        "stall current", "typical current", "charge used", "peak current", "stalled volts", "lowest volts",
        "winding heat", "stall time", "lift", "travel time", "tipping",
    ),
    "explain": ("response", "wire"),
    "check": ("stop promise", "creep", "full scale"),
    "replay": ("going live", "good pulses", "lost signal", "slewing", "reversal rest", "vetoes"),
}  # fmt: skip
"""Every figure by which a key is felt, under the command that tells it."""


@dataclass(frozen=True, slots=True)
class Told:
    """A description taken apart."""

    what: str
    """What the key does, its unit and its choices."""
    moves: tuple[str, ...]
    """Names of `FIGURES_OF`."""

    def __str__(self) -> str:
        return f"{self.what}; moves {', '.join(self.moves)}" if self.moves else self.what


def told(description: str | None) -> Told:
    """What a field's docstring says; empty where there is none."""
    what, _, moves = " ".join((description or "").split()).partition(ARROW)
    return Told(what.strip(), tuple(word.strip() for word in moves.split(",") if word.strip()))


def unit_of(key: str) -> str:
    """The unit in a key's name; empty for a share or a name."""
    words = key.split("_")
    endings = ("_".join(words[at:]) for at in range(len(words)))
    return next((UNITS[ending] for ending in endings if ending in UNITS), "")
