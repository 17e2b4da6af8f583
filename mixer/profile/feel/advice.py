"""What to turn on one robot for what its driver feels."""

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.profile.edit.differences import Change
from mixer.profile.feel.feelings import Feeling
from mixer.profile.feel.steps import fits, moves_of
from mixer.profile.profile import Profile


@dataclass(frozen=True, slots=True)
class Advice:
    """One step, worked out from what the profile says now."""

    moves: tuple[Change, ...]
    why: str
    source: str


def advice(profile: Profile, loadout: str | None, feeling: Feeling) -> Sequence[Advice]:
    """The first step and what else would help: only keys the robot has, only what `check` accepts.

    Empty where the robot has no key for it, or all of them are at their end. Raises OptionError for an
    unknown loadout.
    """
    robot = profile.robot(loadout)
    steps = [Advice(moves_of(robot, step), step.why, step.source) for step in feeling.steps]
    return [step for step in steps if step.moves and fits(profile, loadout, step.moves)]
