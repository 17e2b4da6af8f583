"""A run measured again from its log: the live robot is driven by it once more."""

from dataclasses import dataclass
from pathlib import Path

from mixer.course.keep.card import Card, profile_beside, read_card
from mixer.course.run.lap import Lap
from mixer.course.run.measures import RunMeasures
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import Build, LiveRobot, build_of, with_physics
from mixer.plant.parts.robot import Robot
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import DEFAULT_ENGINE


@dataclass(frozen=True, slots=True)
class KeptRun:
    """A run, by its log."""

    log: Path
    card: Card
    body: Robot
    """The physics that was driven."""
    measures: RunMeasures | None
    """None where it was not driven to its end."""


def kept_run(log: Path) -> KeptRun:
    """Drive a log again. Raises LogError or ProfileError where it, or the tuning beside it, is unusable."""
    card = read_card(log)
    profile = profile_beside(log, card)
    build = with_physics(build_of(profile, card.loadout))
    assert build.prepared.robot is not None
    lap = Lap(card.course(), build)
    _drive(lap, build, log)
    return KeptRun(log, card, build.prepared.robot, lap.measures() if lap.finished else None)


def _drive(lap: Lap, build: Build, log: Path) -> None:
    robot = LiveRobot(build, PlainBoard(build.plan, DEFAULT_ENGINE))
    robot.add(lap)
    for chunk in DriveLog(build.plan, log).chunks():
        robot.take(chunk.inputs)
        if lap.over:
            return
