"""The card of a run: what its log says at its head, and the tuning that stands beside the log."""

import hashlib
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from mixer.course.tasks.scale import Scale
from mixer.course.tasks.task import MOST_POINTS, Task, task_of
from mixer.errors import LogError, Problem
from mixer.profile.profile import Profile, load_profile
from mixer.runs.log.head import read_head

Metres = Annotated[float, Field(ge=1e-3, le=1e3)]
Place = Annotated[float, Field(ge=-1e4, le=1e4)]
Name = Annotated[str, Field(max_length=100)]
REMEDY = "give a log that the bench's course wrote, with the files that stand beside it"


class Card(BaseModel):
    """Everything that has to be known of a run to measure it again."""

    model_config = ConfigDict(extra="ignore", frozen=True, strict=True)

    robot: Name
    driver: Name
    tuning: Annotated[str, Field(pattern=r"^[0-9a-f]{12}$")]
    """The fingerprint of the plan that was driven."""
    profile: Annotated[str, Field(pattern=r"^tuning-[0-9a-f]{12}\.toml$")]
    """The file beside the log that holds the profile."""
    loadout: Name | None = None
    without: list[Name] = []
    task: Name
    reach_m: Metres
    speed_mps: Metres
    way: Annotated[list[tuple[Place, Place]], Field(max_length=2 * MOST_POINTS)] = []
    """Of a task of one's own."""
    study: Name = ""
    """Which blind comparison it belongs to; empty for a run of its own."""
    pair: Annotated[int, Field(ge=0, le=10_000)] = 0
    side: Annotated[str, Field(pattern="^[AB]?$")] = ""
    measure: Name = ""
    """What the comparison was to find out, and from which share of the mean on."""
    share: Annotated[float, Field(ge=0, le=10)] = 0.0

    def course(self) -> Task:
        """The task as it stood on the floor. Raises OptionError for one that there is not."""
        return task_of(self.task, Scale(self.reach_m, self.speed_mps), self.way)


def read_card(log: Path) -> Card:
    """A log's card. Raises LogError where it has none, or one that cannot be used."""
    said = read_head(log)
    if "task" not in said:
        raise LogError([Problem(str(log), "", "says of no task that it was driven for", REMEDY)])
    if isinstance(said.get("way"), list):
        said["way"] = [tuple(point) if isinstance(point, list) else point for point in said["way"]]
    try:
        return Card.model_validate(said)
    except ValidationError as error:
        wrong = [(".".join(map(str, one["loc"])), one["msg"].lower()) for one in error.errors()]
        problems = [Problem(str(log), key, f"cannot be used: {why}", REMEDY) for key, why in wrong]
        raise LogError(problems) from None


def profile_name(text: str) -> str:
    """What a tuning's file is called beside the logs."""
    return f"tuning-{hashlib.sha256(text.encode()).hexdigest()[:12]}.toml"


def profile_beside(log: Path, card: Card) -> Profile:
    """The tuning that was driven. Raises LogError where the file beside the log says something else."""
    path = log.parent / card.profile
    profile = load_profile(path).without(card.without)
    found = profile.fingerprint(card.loadout)
    if profile_name(profile.text) != card.profile or found != card.tuning:
        said = f"{card.profile} beside it has changed since: it is tuning {found}, driven was {card.tuning}"
        raise LogError([Problem(str(log), "tuning", said, "put the file back as it was")])
    return profile
