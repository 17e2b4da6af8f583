"""What a rehearsal asks and what it finds, frozen and ready for JSON."""

import json
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StrictBool, ValidationError

from mixer.errors import OptionError

MOST_BYTES = 1_000_000
"""Of a saved result; of anything longer only the beginning is read, which is none."""
MOST = 1e6
"""No kg, V or ms that a scale or a meter shows is more."""
FORMAT: Final = "stickwright rehearsal 1"
"""Stands in every saved result."""
CAUTION = (
    "A rehearsal shows what one receiver did on one day. It is no certificate; "
    "the event's rules and local codes decide."
)


class Outcome(StrEnum):
    """How a step ended."""

    PASSED = "passed"
    FAILED = "failed"
    SKIPPED = "skipped"
    UNCLEAR = "unclear"
    """It could not be judged: do the step again."""


class ReceiverKind(StrEnum):
    """What a receiver does when its transmitter has gone."""

    STOPS = "pulses stop"
    HOLDS = "holds the last pulses"
    PRESET = "jumps to preset pulses"
    MIXED = "some channels stop, others go on"


@dataclass(frozen=True, slots=True)
class Prompt:
    """What the person is asked to do now."""

    step: str
    text: str
    answers: tuple[str, ...]
    """What may be answered; empty while it only watches."""
    unit: str = ""
    """Where a number may be answered as well: what it is measured in."""
    in_full: bool = False
    """Whether the answer is to be typed in full, since people put their hands where it says."""
    reason: bool = False
    """Whether a skip needs one."""

    def meant(self, line: str) -> str:
        """The answer a typed line stands for: its first letters do, and nothing at all means done."""
        word = " ".join(line.lower().split())
        if not word:
            return "done" if "done" in self.answers else ""
        fits = [answer for answer in self.answers if answer.startswith(word)]
        return fits[0] if len(fits) == 1 and not self.in_full else word

    def takes(self, text: str) -> bool:
        """Whether this may be answered."""
        return text in self.answers or (bool(self.unit) and number_of(text) is not None)

    def offered(self, between: str = " / ") -> str:
        """What may be answered, in words; empty while it only watches."""
        return between.join(((f"a number in {self.unit}",) if self.unit else ()) + self.answers)


def number_of(text: str) -> float | None:
    """A measured value as a person types it, above zero; None for anything else."""
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if 0 < number < MOST else None


@dataclass(frozen=True, slots=True)
class StepVerdict:
    """How one step went."""

    step: str
    outcome: Outcome
    said: str
    facts: tuple[tuple[str, int | float | str | None], ...] = ()
    """Measured values by name; the unit is in the name."""


@dataclass(frozen=True, slots=True)
class RehearsalResult:
    """A whole rehearsal."""

    robot: str
    verdicts: tuple[StepVerdict, ...]
    kind: ReceiverKind | None
    """None when it could not be found out."""
    complete: bool
    """Every step was gone through."""

    @property
    def passed(self) -> bool:
        """Complete, and no step failed, was skipped or stayed unclear; without a step nothing is passed."""
        return (
            self.complete
            and bool(self.verdicts)
            and all(verdict.outcome is Outcome.PASSED for verdict in self.verdicts)
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain data for JSON and for the event sheet."""
        steps = tuple(
            _Step(step=item.step, outcome=item.outcome, said=item.said, facts=dict(item.facts))
            for item in self.verdicts
        )
        saved = _Saved(
            format=FORMAT, robot=self.robot, receiver=self.kind, complete=self.complete, steps=steps
        )
        return saved.model_dump(mode="json") | {"passed": self.passed, "caution": CAUTION}

    def to_json(self) -> str:
        """The result as JSON, one key order, ready to be saved."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False) + "\n"


Saved = TypeVar("Saved", bound=BaseModel)


def read_saved(path: Path, kind: type[Saved], wrong: str, command: str) -> Saved:
    """A result that a command saved. Raises OptionError, which says what is wrong, for another file."""
    remedy = f"give the file that `stickwright {command}` wrote for this robot"
    try:
        with path.open("rb") as file:
            return kind.model_validate_json(file.read(MOST_BYTES))
    except OSError as error:
        raise OptionError(f"{path}: {error.strerror}", remedy) from error
    except ValidationError as error:
        first = error.errors(include_input=False, include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        said = f"{path} {wrong}: {place + ': ' if place else ''}{first['msg']}"
        raise OptionError(said, remedy) from error


class _Step(BaseModel):
    """A step's verdict in a rehearsal's file."""

    model_config = ConfigDict(strict=False, extra="ignore")
    step: str
    outcome: Outcome
    said: str = ""
    facts: dict[str, int | float | str | None] = {}


class _Saved(BaseModel):
    """A rehearsal's file, as it is written and read."""

    format: Literal["stickwright rehearsal 1"]
    robot: str
    receiver: ReceiverKind | None
    complete: StrictBool
    steps: tuple[_Step, ...] = Field(max_length=100)


def read_rehearsal(path: Path) -> RehearsalResult:
    """A saved rehearsal, without the measured values. Raises OptionError for a file that is none."""
    saved = read_saved(path, _Saved, "is not a rehearsal", "rehearse")
    verdicts = tuple(StepVerdict(item.step, item.outcome, item.said) for item in saved.steps)
    return RehearsalResult(saved.robot, verdicts, saved.receiver, saved.complete)
