"""What is broken: disconnected and stalled are opposites, a stuck controller does not listen."""

import math
from dataclasses import replace

import pytest

from mixer.plant.parts.damage import disconnected, seized, stuck
from mixer.plant.parts.robot import Robot, flipped
from mixer.plant.plant import Plant
from mixer.plant.step.layout import plant_layout_of
from tests.plant.invented import many_motored, tank


def run(robot: Robot, duties: list[float], seconds: float = 1.0) -> Plant:
    """So many seconds at 2 ms."""
    plant = Plant(robot)
    for _ in range(round(seconds / 0.002)):
        plant.run_duties(duties, 0.002)
    return plant


def test_a_broken_robot_keeps_its_layout() -> None:
    """So that it can be swapped in while it runs."""
    robot = many_motored()
    for broken in (disconnected(robot, 0), seized(robot, 8), stuck(robot, 1, 1.0)):
        assert plant_layout_of(broken) == plant_layout_of(robot)


def test_disconnected_and_seized_are_opposites() -> None:
    """No current and turning wheels against stall current and locked ones; both pull to their side."""
    loose, locked = run(disconnected(tank(), 0), [1.0, 1.0], 0.4), run(seized(tank(), 0), [1.0, 1.0], 0.4)
    assert loose.value("output.left.current") == 0
    assert abs(loose.value("wheel.left0.speed")) > 0.02
    stall = tank().stall_currents()[0]
    assert locked.value("output.left.current") == pytest.approx(stall, rel=0.15)
    assert abs(locked.value("wheel.left0.speed")) < 1e-6
    assert loose.value("turn") > 0
    assert locked.value("turn") > 0


def test_a_seized_screw_stays_and_stalls() -> None:
    """Its extension does not change, its current is the stall's."""
    plant = run(seized(many_motored(), 8), [0.0] * 8 + [1.0, 1.0], 0.5)
    seen = plant.snapshot()
    assert seen.extension_m[0] == pytest.approx(0, abs=1e-12)
    assert seen.extension_m[1] > 0
    assert seen.output_a[8] > 3 * seen.output_a[9]


def test_a_stuck_controller_drives_on() -> None:
    """Told nothing it gives what it is stuck at, and the robot circles."""
    plant = run(stuck(tank(), 1, 1.0), [0.0, 0.0])
    assert plant.value("wheel.right0.speed") > 0.3
    assert plant.value("turn") > 0


def test_without_a_side_it_turns_slower_than_with_it() -> None:
    """A channel that is dead takes its push away and leaves its wheels' drag, so a turn gets slower."""
    whole, half = run(tank(), [-1.0, 1.0], 2.0), run(disconnected(tank(), 0), [-1.0, 1.0], 2.0)
    assert 0 < half.value("turn") < 0.8 * whole.value("turn")


def test_magnets_belong_to_a_face() -> None:
    """On its back the other face's magnets pull, and what they add to the grip is known."""
    robot = tank()
    robot = replace(robot, wheels=tuple(replace(w, magnet_n=5.0, magnet_back_n=2.0) for w in robot.wheels))
    back = flipped(robot)
    assert [wheel.magnet_n for wheel in back.wheels] == [2.0] * 4
    assert flipped(back) == robot or math.isclose(flipped(back).wheels[0].magnet_n, 5.0)
