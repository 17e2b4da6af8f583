"""What is measured of a run: on ways and hands whose numbers are known."""

import math

import numpy as np
import pytest

from mixer.course.run.follow import Follower
from mixer.course.run.sticks import driving_sticks, reversals
from mixer.course.tasks.scale import Scale
from mixer.course.tasks.shapes import Pen
from mixer.course.tasks.task import eight
from mixer.runs.measure.physics import PhysicsMeasures
from tests.course.driven import build, drive, task_for, text_of


def test_a_circle_inside_the_way_is_off_by_the_difference() -> None:
    """Round a circle of 1 m on one of 0.9 m: 0.1 m to the left (inside) all along, to its end."""
    way = Follower(Pen().round(1.0, 360).points, 1.0)
    off = []
    for angle in np.linspace(0, 2 * math.pi, 400):
        off.append(way.off(0.9 * math.sin(angle), 1 - 0.9 * math.cos(angle)))
        assert way.bend == 1 or way.along < 0.2
    assert np.allclose(off, 0.1, atol=0.003)
    assert way.along == pytest.approx(way.length, rel=2e-3)


def test_a_crossing_is_no_short_cut() -> None:
    """In the middle of an eight no circle is mistaken for the other, nor the end for the beginning."""
    task = eight(Scale(0.2, 1.0))
    way = Follower(task.way, task.scale.unit)
    for point in task.way[: len(task.way) // 2]:
        assert way.off(*point) == pytest.approx(0.0, abs=1e-9)
    assert way.along == pytest.approx(way.length / 2, rel=0.03)
    assert not way.arrived
    for point in task.way[len(task.way) // 2 :]:
        way.off(*point)
    assert way.arrived


@pytest.mark.parametrize(
    ("values", "count"),
    [
        ([0, 10, 0, 10, 0], 3),
        ([0, 10, 20, 30], 0),
        ([0, 3, 0, 3, 0], 0),
        ([0, 10, 7, 12, 8, 30, 0], 1),
        ([0, 3, -3, 3, 20, 10], 2),
        ([], 0),
    ],
)
def test_a_correction_is_a_reversal_of_some_way(values: list[float], count: int) -> None:
    """Counted by hand with a gap of 5: movements smaller than that do not count, however many they are."""
    assert reversals(values, 5) == count


def test_a_sine_is_corrected_twice_a_period() -> None:
    """Less one at the beginning, as the first movement reverses nothing."""
    wave = [100 * math.sin(2 * math.pi * tick / 50) for tick in range(50 * 7)]
    assert reversals(wave, 5) == 2 * 7


def test_only_sticks_that_drive_count() -> None:
    """The carrier's tray stick moves no wheel."""
    made = build(text_of("sample_carrier"))
    assert made.prepared.robot is not None
    names = [made.plan.sticks[number].name for number in driving_sticks(made.plan, made.prepared.robot)]
    assert names == ["steering", "throttle"]


def test_charge_and_time_are_the_physics_own() -> None:
    """The charge of a run is what `replay --physics` sums up; an equal hand gives equal numbers."""
    text = text_of("tank_pair")
    made = build(text)
    assert made.prepared.robot is not None
    sums = PhysicsMeasures(made.prepared.robot, made.plan.tick_ms)
    lap = drive(text, task_for("tank_pair", "turn"), 5, sink=sums)
    assert sums.summary().charge_ah * 1000 == pytest.approx(lap.measures().charge_mah, rel=1e-3)
    assert drive(text, task_for("tank_pair", "turn"), 5).measures() == lap.measures()


def test_a_hasty_hand_overshoots() -> None:
    """A robot that is late to let go runs past the box's middle; the measure tells how far."""
    lap = drive(text_of("long_crawler"), task_for("long_crawler", "box"), 2)
    assert lap.finished
    measures = lap.measures()
    assert measures.overshoot == max(0.0, *(x - lap.task.way[-1][0] for x, _ in lap.trace))
