"""What a check in the pit found, frozen, saved and read again."""

from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field, StrictBool, computed_field

from mixer.link.rehearse.report import Outcome, read_saved

FORMAT: Final = "stickwright pit 1"
"""Stands in every saved result."""


class PitStep(BaseModel):
    """How one step ended, and what it rests on."""

    model_config = ConfigDict(extra="ignore", frozen=True)
    step: str
    part: str
    """The entry of the list it belongs to."""
    outcome: Outcome
    said: str = ""
    facts: dict[str, int | float | str | None] = {}
    at: str = ""
    """When it was done, local time."""
    basis: str = ""
    """A digest of what of the profile it is about; empty where it must be done anew each time."""
    kept: StrictBool = False
    """Whether it is taken over from an earlier check, since nothing it rests on has changed."""

    @property
    def told(self) -> bool:
        """Whether it is what a person said, and nothing that a scale, a meter or the board has shown."""
        return self.part.startswith("by hand") or self.facts.get("board", "") is None


class PitResult(BaseModel):
    """A whole check, done or under way."""

    model_config = ConfigDict(extra="ignore", frozen=True)
    format: Literal["stickwright pit 1"] = FORMAT
    robot: str
    fingerprint: str
    chosen: str = ""
    """Loadout and whatever else was chosen on the command line; empty for the base robot."""
    begun: str
    complete: StrictBool
    """Every step was gone through."""
    steps: tuple[PitStep, ...] = Field(max_length=300)

    @computed_field
    @property
    def ready(self) -> bool:
        """Complete, and every step passed."""
        return self.complete and bool(self.steps) and not self.open

    @property
    def open(self) -> tuple[PitStep, ...]:
        """The steps that did not pass."""
        return tuple(step for step in self.steps if step.outcome is not Outcome.PASSED)

    def verdict(self) -> str:
        """The whole in one line, and what it rests on."""
        if self.ready:
            kept = sum(step.kept for step in self.steps)
            earlier = f"; {kept} of them kept from an earlier check" if kept else ""
            return f"READY: {len(self.steps)} of {len(self.steps)} steps passed{earlier}"
        counts = [(o, sum(step.outcome is o for step in self.steps)) for o in Outcome]
        told = [f"{number} {outcome}" for outcome, number in counts if number]
        return (
            "NOT READY: "
            + ", ".join(told or ["nothing was done"])
            + ("" if self.complete else "; it ended before its last step")
        )

    def to_json(self) -> str:
        """Ready to be saved."""
        return self.model_dump_json(indent=2) + "\n"


def read_pit(path: Path) -> PitResult:
    """A saved check. Raises OptionError for a file that is none."""
    return read_saved(path, PitResult, "is no check of the pit", "pit")
