"""The course: choose a task, drive it, see what it took, compare two tunings blindly."""

from collections.abc import Callable, Sequence
from typing import ClassVar

from mixer.course.desk.desk import Desk, Done
from mixer.course.run.measures import MEASURES, RunMeasures
from mixer.course.study.words import unit_of, verdict
from mixer.course.tasks.scale import footprint_of
from mixer.course.tasks.shapes import Point, Pose
from mixer.course.tasks.task import Task
from mixer.errors import OptionError
from tui.bench.commands import Command
from tui.dialogs.comparing import begin_or_end, start, take_place
from tui.drawing.course import Seen, course_view
from tui.drawing.rows import Row, beside, fit, row_of, sized, wrapped
from tui.panels.base import Panel

WORDS = 31
"""Columns of text beside the picture."""
Line = tuple[str, str]
"""Words and style."""


def _move(by: int) -> Callable[["CoursePanel"], None]:
    def run(panel: "CoursePanel") -> None:
        desk = panel.bench.desk
        if desk is not None and desk.tasks:
            keys = [task.key for task in desk.tasks]
            at = keys.index(desk.task.key) + by if desk.task is not None else 0
            desk.choose(keys[min(max(at, 0), len(keys) - 1)])

    return run


def _keep(panel: "CoursePanel") -> None:
    if panel.bench.desk is not None:
        panel.bench.desk.keep_way()
        panel.bench.say("the way of the last run is a task now: the last of the list")


def _give_up(panel: "CoursePanel") -> None:
    if panel.bench.desk is not None and panel.bench.desk.running:
        panel.bench.desk.give_up()
        return
    panel.host.open_drawer("")


class CoursePanel(Panel):
    """Tasks and words on the left, the course from above on the right."""

    title: ClassVar[str] = "course"
    letter: ClassVar[str] = "v"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
Is this tuning better for these hands? Choose a task with the arrows; enter puts the robot at its start,
armed, and the clock runs from your first movement of a stick. Over a link you arm by your own transmitter.

The dashed line is the ideal way, amber discs are posts, the bright line is the way you drive, the faint
ones the runs before. Off the way is the root mean square; a correction is a reversal of a stick by 5 % of
its way or more.

m makes the way of the last run a task of your own. B compares A and B blindly: they are dealt by lot, in
balanced order, and nothing says which one you drive until you end it. Each run is kept as a log that can be
replayed; `stickwright course LOGS...` compares them again."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(("up",), "before", "up", "the task above", _move(-1)),
        Command(("down",), "next", "down", "the task below", _move(1)),
        Command(("enter",), "start", "drive", "put the robot at the start of the task", start, 1),
        Command(("B",), "blind", "A/B blindly", "compare A and B blindly, or end that", begin_or_end, 1),
        Command(("m",), "keep", "own way", "make the way of the last run a task", _keep),
        Command(("escape",), "close", "give up", "give the run up, else close", _give_up, 1),
    )

    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("▸", "the task that is chosen"),
        ("- - -", "the ideal way, and the gate"),
    )

    def on_focus(self) -> None:
        """The first time, measure the robot."""
        super().on_focus()
        self.bench.attempt(lambda: take_place(self.host))

    def seen(self) -> object:
        """The robot in millimetres, the clock in tenths, and what has been driven."""
        desk, physics = self.bench.desk, self.bench.snapshot.physics
        if desk is None or physics is None:
            return None
        seconds = round(desk.lap.seconds, 1) if desk.lap is not None else None
        pose = round(physics.x_m, 3), round(physics.y_m, 3), round(physics.heading_rad, 2)
        return pose, seconds, desk.running, len(desk.runs), desk.task, desk.blind is None, desk.result

    def note(self) -> str:
        """Who drives."""
        desk = self.bench.desk
        return f"driver: {desk.shelf.driver}" if desk is not None and desk.shelf.driver else ""

    def draw(self, width: int, height: int) -> Sequence[Row]:
        """Words beside the picture."""
        desk = self.bench.desk
        try:
            lines = [("no course for this robot", "dim")] if desk is None else words_of(desk, WORDS - 2)
        except OptionError as error:
            return [row_of(width, [(2, line, "warn")]) for line in wrapped(str(error.said), width - 4)]
        seen = None if desk is None or width < WORDS + 12 else self._course(desk)
        room = width if seen is None else WORDS
        words = [row_of(room, [(1, fit(text, max(room - 1, 0)), style)]) for text, style in lines]
        if seen is None:
            return words
        return beside(sized(words, WORDS, height), course_view(seen, width - WORDS, height))

    def _course(self, desk: Desk) -> Seen | None:
        physics, robot = self.bench.snapshot.physics, desk.session.robot.build.prepared.robot
        if desk.task is None or physics is None or robot is None:
            return None
        pose = Pose(physics.x_m, physics.y_m, physics.heading_rad)
        traces: list[Sequence[Point]] = [run.trace for run in desk.runs[-SHOWN:]]
        if desk.lap is not None and desk.running:
            traces.append(desk.lap.trace[::10])
        return Seen(desk.task, footprint_of(robot), pose, traces[-1] if traces else (), traces[:-1])


SHOWN = 5
"""Runs whose traces stay on the floor."""


def words_of(desk: Desk, width: int) -> list[Line]:
    """What stands beside the picture: the tasks, what to do, what came of it."""
    tasks = desk.tasks
    if not tasks:
        return [("measuring the robot ...", "dim")]
    lines: list[Line] = []
    if desk.blind is None and not desk.running:
        chosen = desk.task
        lines += [
            (f"▸ {one.name}", "head") if one == chosen else (f"  {one.name}", "text") for one in tasks
        ]
    elif desk.task is not None:
        lines.append((desk.task.name, "head"))
    if desk.task is None:
        return [*lines, ("", "text"), ("↑ ↓ choose, enter drives", "dim")]
    lines += [(line, "dim") for line in wrapped(desk.task.asks, width)]
    lines += [("", "text"), *_state(desk, width)]
    if desk.result is not None:
        said = verdict(desk.result, desk.task.past_unit)
        return [*lines, *((line, "head") for line in wrapped(said, width)), *_differences(desk, width)]
    return [*lines, *(_done(desk.runs[-1], desk.task, width) if desk.runs and not desk.running else [])]


def _state(desk: Desk, width: int) -> list[Line]:
    """The clock, and how far a comparison has come."""
    lap, blind = desk.lap, desk.blind
    lines: list[Line] = []
    if blind is not None:
        said = progress_of(blind.pair, len(blind.runs), blind.needed)
        lines += [(line, "accent") for line in wrapped(said, width)]
    if desk.running and lap is not None and lap.begun:
        touched = f"  {lap.touched} touched" if lap.touched else ""
        lines.append((f"{lap.seconds:6.1f} s{touched}", "live!"))
    elif desk.running:
        lines.append(("go: your first move starts it", "live!"))
    else:
        lines.append(("enter: to the start", "accent"))
    return lines


def progress_of(pair: int, runs: int, needed: int | None) -> str:
    """Where a blind comparison stands, and how many runs are still needed."""
    said = f"blind: run {runs % 2 + 1} of pair {pair + 1}"
    if needed is None:
        return f"{said}; how many it takes shows after four pairs"
    if pair >= needed:
        return f"{pair} pairs driven: enough. B ends it"
    left = needed - pair
    return f"{said}; about {left} more pair{'s' * (left > 1)}"


def _differences(desk: Desk, width: int) -> list[Line]:
    """B minus A of each measure; bright where it can be told from chance."""
    assert desk.result is not None
    assert desk.task is not None
    lines = [("", "text"), ("B minus A", "dim")]
    for one in desk.result.differences:
        measure = MEASURES[one.key]
        value = f"{one.by:+.{measure.digits}f}{unit_of(one.key, desk.task.past_unit)}"
        lines.append((_entry(measure.label, value, width), "head" if one.found else "dim"))
    return lines


def _entry(label: str, value: str, width: int) -> str:
    """A name, and its number at the right."""
    return f"{fit(label, width - len(value) - 1):<{width - len(value)}}{value}"


def _done(done: Done, task: Task, width: int) -> list[Line]:
    if done.measures is None:
        return [(line, "warn") for line in wrapped(f"does not count: {done.why}", width)]
    return [("", "text"), *((line, "text") for line in table_of(done.measures, task, width))]


def table_of(measures: RunMeasures, task: Task, width: int) -> list[str]:
    """A line a measure: its name, its number at the right."""
    lines = []
    for key, measure in MEASURES.items():
        digits = 0 if key == "touched" else measure.digits
        value = f"{measures.of(key):.{digits}f}{unit_of(key, task.past_unit)}"
        lines.append(_entry(measure.label, value, width))
    return lines
