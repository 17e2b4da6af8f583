"""Runs by the simulated driver, and their logs as the bench writes them."""

from functools import lru_cache
from pathlib import Path

from mixer.course.keep.card import Card, profile_name
from mixer.course.run.lap import Lap
from mixer.course.tasks.scale import Scale, scale_of
from mixer.course.tasks.task import Task, task_of
from mixer.live.listen.recorder import Recorder
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import Build, LiveRobot, build_of
from mixer.profile.profile import Profile, parse_profile
from mixer.runs.play.stretch import Sink
from tests.course.driver import Driver, Feeling, feeling_of

ROOT = Path(__file__).parents[2]
EXAMPLES = ("tank_pair", "sample_carrier", "holonomic_trio", "long_crawler")


@lru_cache(maxsize=8)
def text_of(robot: str) -> str:
    """An example's profile."""
    return (ROOT / "profiles" / f"{robot}.toml").read_text(encoding="utf-8")


@lru_cache(maxsize=16)
def build(text: str) -> Build:
    """A robot by its profile's text."""
    return build_of(parse_profile(text, "a profile"))


@lru_cache(maxsize=8)
def scale(text: str) -> Scale:
    """The scale of its course."""
    return scale_of(build(text))


@lru_cache(maxsize=8)
def feeling(text: str) -> Feeling:
    """What its driver knows."""
    return feeling_of(build(text))


def drive(
    text: str,
    task: Task,
    seed: int,
    *,
    knows: str = "",
    log: Path | None = None,
    sink: Sink | None = None,
    **said: object,
) -> Lap:
    """One run, by hands that know the robot with the tuning `knows`.

    It is written to a log where one is named, with what is `said` on its card.
    """
    made = build(text)
    robot = LiveRobot(made, PlainBoard(made.plan, "python"))
    recorder, lap = Recorder(), Lap(task, made)
    robot.add(recorder)
    for each in [lap] if sink is None else [lap, sink]:
        robot.add(each)
    if log is not None:
        card = card_of(parse_profile(text, "a profile"), task, **said)
        (log.parent / card.profile).write_text(text, encoding="utf-8")
        recorder.start(log, made.plan, head=card.model_dump(exclude_defaults=True))
    robot.arm()
    driver = Driver(robot, task, feeling(knows or text), seed)
    while not lap.over and robot.time_s < task.limit_s + 5:
        robot.play(driver, 97)
    recorder.stop()
    return lap


def card_of(profile: Profile, task: Task, **said: object) -> Card:
    """What a log says of a run."""
    fields: dict[str, object] = {
        "robot": profile.plan().name, "driver": "Ada", "tuning": profile.fingerprint(),
        "profile": profile_name(profile.text), "task": task.key,
        "reach_m": task.scale.reach_m, "speed_mps": task.scale.speed_mps,
    }  # fmt: skip
    return Card.model_validate(fields | said)


def task_for(robot: str, key: str) -> Task:
    """A task at an example's scale."""
    return task_of(key, scale(text_of(robot)))
