"""What the page tells, as plain frozen values. Whoever has the results fills them in; nothing here runs."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from mixer.core.plan import Plan
from mixer.plant.sizing.report import SizeReport
from mixer.profile.schema.root import Robot


class Seen(Enum):
    """How a simulated fault ended."""

    HOLDS = "holds"
    BROKEN = "broken"
    UNSEEN = "cannot be seen by firmware"


class Outcome(Enum):
    """How a rule ended in the proof."""

    PROVEN = "proven"
    COUNTER_EXAMPLE = "counter-example"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class StopFacts:
    """What happens when the radio goes, in ms from the last good pulse."""

    promised_ms: float
    worst_ms: float
    """By the plan's own counters, up to a tick until a pulse is read included."""
    detected_ms: float
    """From the last good pulse until the loss is noticed: the detection part of `worst_ms`."""
    reaction_ms: float
    """From there to all outputs at zero."""
    words: str
    """Which stop category of IEC 60204-1, 9.2.2 the stop is like, in words."""

    @property
    def kept(self) -> bool:
        """Whether the promise holds in the worst case."""
        return self.worst_ms <= self.promised_ms


@dataclass(frozen=True, slots=True)
class FaultLine:
    """One fault over all its scenarios."""

    key: str
    """``family.member``; what stands before the first dot joins faults of a kind."""
    scenarios: int
    seen: Seen
    neutral_ms: float | None
    """Longest time from onset to all outputs at zero; None where it need not or does not stop."""
    distance_m: float | None


@dataclass(frozen=True, slots=True)
class Simulated:
    """A campaign of faults."""

    seed: int
    seconds: float
    faults: tuple[FaultLine, ...]

    @property
    def scenarios(self) -> int:
        """How many were run."""
        return sum(fault.scenarios for fault in self.faults)

    def count(self, seen: Seen) -> int:
        """How many faults ended so."""
        return sum(fault.seen is seen for fault in self.faults)

    @property
    def worst_ms(self) -> float | None:
        """The longest time to neutral of any fault."""
        return max((f.neutral_ms for f in self.faults if f.neutral_ms is not None), default=None)


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule and how its proof ended."""

    key: str
    words: str
    outcome: Outcome
    bound_ms: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Proven:
    """All rules of the robot."""

    rules: tuple[RuleLine, ...]

    def count(self, outcome: Outcome) -> int:
        """How many rules ended so."""
        return sum(rule.outcome is outcome for rule in self.rules)


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """What the guided test found out about this receiver."""

    robot: str
    receiver: str
    """What it does when the transmitter is off; empty when that was not found out."""
    passed: bool
    complete: bool
    not_passed: tuple[str, ...] = ()
    """Steps that did not pass, with how they ended."""


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """Everything on the page. None means: not done for this sheet, and the page says so."""

    file: str
    """The profile's file name, for the commands that print full lists."""
    loadout: str | None
    robot: Robot
    plan: Plan
    profile_fingerprint: str
    code_fingerprint: str
    stop: StopFacts
    size: SizeReport
    proven: Proven | None = None
    simulated: Simulated | None = None
    rehearsed: Rehearsed | None = None
    warnings: tuple[str, ...] = ()

    def command(self, name: str, *options: str) -> str:
        """The command that prints a list in full."""
        loadout = () if self.loadout is None else (f"--loadout {self.loadout}",)
        return " ".join(("stickwright", name, self.file, *loadout, *options))


def code_fingerprint(files: Mapping[str, str]) -> str:
    """The first 16 hex digits of what ``cat mix.c mix.h | sha256sum`` prints in the export's folder."""
    text = files["mix.c"] + files["mix.h"]
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
