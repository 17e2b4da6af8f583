"""The tasks: their geometry, their size, and that each can be driven on each example."""

import math
from collections.abc import Callable

import pytest

from mixer.course.tasks.scale import R10, Scale, preferred, scale_of
from mixer.course.tasks.shapes import Footprint, Pen, Pose, Post, length_of
from mixer.course.tasks.task import TASKS, Ends, Task, gate, task_of
from mixer.errors import OptionError
from tests.course.driven import EXAMPLES, build, drive, scale, task_for, text_of
from tests.lengths import cases

KEYS = ("gate", "eight", "box", "turn", "line")


@pytest.mark.parametrize(
    ("robot", "key"),
    cases(
        [("tank_pair", "box"), ("holonomic_trio", "turn")],
        [(robot, key) for robot in EXAMPLES for key in KEYS],
    ),
)
def test_every_task_can_be_driven_on_every_example(robot: str, key: str) -> None:
    """A driver with slow and unsteady hands gets to the end, near the way, without touching a post."""
    lap = drive(text_of(robot), task_for(robot, key), 1)
    assert lap.finished
    measures = lap.measures()
    assert measures.off_most_m < 0.3 * task_for(robot, key).scale.unit
    assert not measures.touched
    assert 0 < measures.time_s < lap.task.limit_s / 2
    assert measures.charge_mah > 0


def test_a_way_driven_once_is_a_task() -> None:
    """What the trace of a run gives can be driven again, as closely as the way that was given."""
    text = text_of("tank_pair")
    first = drive(text, task_for("tank_pair", "line"), 3)
    own = task_of("own", first.task.scale, first.trace)
    assert task_of("own", first.task.scale, own.way) == own
    assert length_of(own.way) == pytest.approx(length_of(first.task.way), rel=0.05)
    assert drive(text, own, 4).measures().off_rms_m < 0.1 * own.scale.unit


def test_the_loop_behind_the_gate_leads_back_into_its_stem() -> None:
    """A sixth of a circle right, five sixths left, a sixth right end where they began (trigonometry)."""
    pen = Pen().ahead(2.0, 0.1).round(0.7, -60).round(0.7, 300).round(0.7, -60)
    assert pen.pose.x == pytest.approx(2.0)
    assert pen.pose.y == pytest.approx(0.0, abs=1e-12)
    assert pen.pose.yaw == pytest.approx(math.pi)
    task = gate(Scale(0.2, 1.0))
    post = task.posts[2]
    around = [math.hypot(x - post.x, y - post.y) for x, y in task.way if x > 2.5 * task.scale.unit + 0.1]
    assert min(around) == pytest.approx(0.75 * task.scale.unit, rel=0.01)


@pytest.mark.parametrize("make", TASKS)
def test_a_course_is_as_large_as_its_robot(make: Callable[[Scale], Task]) -> None:
    """Twice the robot at twice the speed has twice the course; every way begins at the robot, ahead."""
    small, large = make(Scale(0.1, 0.5)), make(Scale(0.2, 1.0))
    assert large.scale.unit == pytest.approx(2 * small.scale.unit)
    for (x, y), (u, v) in zip(small.way, large.way, strict=True):
        assert (2 * x, 2 * y) == pytest.approx((u, v), abs=1e-5)
    assert small.way[0] == (0.0, 0.0)
    if small.ends is not Ends.TURNED:
        assert small.way[1][0] > abs(small.way[1][1])


def test_a_circle_of_chords_is_as_long_as_its_arc() -> None:
    """Within a quarter of a per cent."""
    assert length_of(Pen().round(1.0, 360).points) == pytest.approx(2 * math.pi, rel=0.0025)


@pytest.mark.parametrize(
    ("value", "nearest"), [(0.113, 0.125), (1.5, 1.6), (9.4, 10.0), (0.0299, 0.0315), (7.0, 6.3)]
)
def test_sizes_are_preferred_numbers(value: float, nearest: float) -> None:
    """Series R10 of ISO 3:1973, table 1, the nearest by ratio."""
    assert preferred(value) == pytest.approx(nearest)
    assert len(R10) == 10


def test_a_changed_tuning_has_the_same_course() -> None:
    """A twentieth less speed leaves the course as it is."""
    text = text_of("tank_pair")
    slower = text.replace("expo = 0.3", "expo = 0.3\nrate = 0.95")
    assert scale(text) == scale(slower)


def test_a_touch_is_by_the_footprint() -> None:
    """A post beside a turned robot's flank is touched exactly where the flank is."""
    foot = Footprint(-0.2, 0.3, -0.1, 0.1)
    post = Post(0.0, 0.0, 0.02)
    assert foot.touches(post, Pose(0.119, 0.1, math.pi / 2))
    assert not foot.touches(post, Pose(0.121, 0.1, math.pi / 2))
    assert foot.reach == pytest.approx(math.hypot(0.3, 0.1))


def test_who_cannot_drive_gets_no_course() -> None:
    """Without physics, with motors that stand still, and for a way that leads nowhere."""
    text = text_of("tank_pair")
    with pytest.raises(OptionError, match="no physics"):
        scale_of(build(text.split("[battery]")[0] + "[chassis]" + text.split("[chassis]")[1]))
    with pytest.raises(OptionError, match="cannot drive a course"):
        scale_of(build(text.replace("no_load_a = 0.15", "no_load_a = 20.0")))
    with pytest.raises(OptionError, match="too short"):
        task_of("own", Scale(0.1, 1.0), [(0.0, 0.0), (0.1, 0.0)])
    with pytest.raises(OptionError, match="no task 'slalom'"):
        task_of("slalom", Scale(0.1, 1.0))
