"""A number with its limit and what to think of it."""

from dataclasses import dataclass
from enum import Enum


class Verdict(Enum):
    """How a number stands to its limit."""

    FINE = "fine"
    TIGHT = "tight"
    OVER = "over"
    TOLD = "told"
    """There is no limit to compare with."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the report."""

    section: str
    """``mass``, ``drive``, ``push``, ``currents``, ``battery``, ``heat``, ``lift``."""
    key: str
    """Stable name for machines: ``top_speed``, ``stall_a.left``."""
    label: str
    value: float | None
    """None where the answer is a word."""
    unit: str
    limit: float | None
    verdict: Verdict
    words: str
    """Plain sentence: what the number means against its limit."""


def told(section: str, key: str, label: str, value: float | None, unit: str, words: str = "") -> Finding:
    """A number without a limit."""
    return Finding(section, key, label, value, unit, None, Verdict.TOLD, words)


def judged(
    section: str, key: str, label: str, value: float, unit: str, limit: float, words: tuple[str, str, str],
    tight_at: float = 0.9,
) -> Finding:  # fmt: skip
    """A number to stay below a limit; `words` for fine, tight (from `tight_at` x limit) and over."""
    if value > limit:
        return Finding(section, key, label, value, unit, limit, Verdict.OVER, words[2])
    if value > tight_at * limit:
        return Finding(section, key, label, value, unit, limit, Verdict.TIGHT, words[1])
    return Finding(section, key, label, value, unit, limit, Verdict.FINE, words[0])
