"""Flip against geometry: what the wheels do on the floor when the robot lies on its back.

Floats, vectors and rotation matrices, from rigid-body kinematics (v = ω × r at a wheel that rolls
without slipping); nothing of the core's own reasoning is used.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import ContactPlan, FlipPlan, GroupPlan, OverRange, Plan
from mixer.core.tick import flat_tick
from tests.core.ticks import commands_of
from tests.plans import plain_plan, tank_plan

UPRIGHT = np.eye(3)
ROLLED = np.diag([1.0, -1.0, -1.0])
"""Rolled over about the robot's long axis by half a turn: its nose points where it did."""
UP = np.array([0.0, 0.0, 1.0])
RADIUS = 0.05


def motion(
    places: list[tuple[float, float]], headings: list[float], spins: list[float], pose: np.ndarray
) -> np.ndarray:
    """(forward, sideways, turning) of the chassis on the floor, from the wheels' spins.

    Each wheel sits at a place in the robot's plane and rolls towards a heading when its spin is
    positive and the robot upright. In the world, a wheel of angular velocity ω on a floor below it
    moves its hub with ω × RADIUS·UP; rollers may let it slip along its own axle. The chassis motion
    is the one that agrees with all hubs along their rolling directions (least squares; exact here).
    """
    rows, speeds = [], []
    for (x, y), heading, spin in zip(places, headings, spins, strict=True):
        axle = pose @ np.array([-math.sin(heading), math.cos(heading), 0.0])
        hub = np.cross(spin * axle, RADIUS * UP)
        rolling = np.cross(axle, UP)
        place = pose @ np.array([x, y, 0.0])
        sideways = np.cross(UP, place)
        rows.append([rolling[0], rolling[1], rolling @ sideways])
        speeds.append(rolling @ hub)
    twist, *_ = np.linalg.lstsq(np.array(rows), np.array(speeds), rcond=None)
    return np.asarray(twist)


def with_sensor(plan: Plan, forward: set[int]) -> Plan:
    """The plan with a roll-over contact, and these sticks driving forward."""
    sticks = tuple(replace(stick, flips=number in forward) for number, stick in enumerate(plan.sticks))
    contact = ContactPlan("rolled", 1, 0)
    return replace(plan, sticks=sticks, contacts=(contact,), flip=FlipPlan(0, 1))


def spins_of(plan: Plan, pulses: list[int], rolled: int) -> list[float]:
    """Wheel spins of a robot that is live, with these sticks, upright or rolled over."""
    state: list[int] = list(layout_of(plan).start)
    rest = [1500] * len(pulses)
    for _ in range(plan.guard.hold_ticks + 1):
        state = flat_tick(plan, (*rest, rolled), state).state
    return [command / ONE for command in commands_of(plan, flat_tick(plan, (*pulses, rolled), state))]


TANK_PLACES = [(0.0, 0.1), (0.0, -0.1)]
sticks = st.integers(1000, 2000)


@pytest.mark.parametrize("policy", OverRange)
@given(pulses=st.tuples(sticks, sticks))
def test_a_rolled_tank_drives_as_its_driver_wants(policy: OverRange, pulses: tuple[int, int]) -> None:
    """Same sticks, same forward speed and same turn on the floor, either way up."""
    plan = with_sensor(tank_plan(policy), forward={0})
    upright = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, list(pulses), 0), UPRIGHT)
    rolled = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, list(pulses), 1), ROLLED)
    assert rolled == pytest.approx(upright, abs=1e-9)


def test_forward_is_forward_and_right_is_right() -> None:
    """The geometry itself: throttle moves along the nose, left faster turns right."""
    plan = with_sensor(tank_plan(), forward={0})
    ahead = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, [2000, 1500], 0), UPRIGHT)
    turn = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, [1500, 2000], 0), UPRIGHT)
    assert ahead == pytest.approx([RADIUS, 0.0, 0.0], abs=1e-9)
    assert turn == pytest.approx([0.0, 0.0, -RADIUS / 0.1], abs=1e-9)


def test_without_flip_a_rolled_robot_goes_the_wrong_way() -> None:
    """The test can fail: unflipped, the same sticks drive a rolled robot backwards."""
    plan = with_sensor(tank_plan(), forward=set())
    rolled = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, [2000, 1600], 1), ROLLED)
    wanted = motion(TANK_PLACES, [0.0, 0.0], spins_of(plan, [2000, 1600], 0), UPRIGHT)
    assert rolled[0] == pytest.approx(-wanted[0])
    assert rolled[2] == pytest.approx(wanted[2])


HOLONOMIC_PLACES = [(0.2, 0.15), (0.2, -0.15), (-0.2, 0.15), (-0.2, -0.15)]
HOLONOMIC_HEADINGS = [-math.pi / 4, math.pi / 4, math.pi / 4, -math.pi / 4]


def holonomic() -> Plan:
    """Four wheels with rollers at 45°: forward, sideways, turn; scaled together."""
    rows = []
    for (x, y), heading in zip(HOLONOMIC_PLACES, HOLONOMIC_HEADINGS, strict=True):
        along = (math.cos(heading), math.sin(heading), x * math.sin(heading) - y * math.cos(heading))
        rows.append(tuple(round(ONE * part) for part in along))
    group = GroupPlan("wheels", (0, 1, 2, 3), OverRange.SCALE, None)
    return with_sensor(plain_plan(tuple(rows), groups=(group,)), forward={0})


@given(st.tuples(sticks, sticks, sticks))
def test_a_rolled_holonomic_robot_strafes_the_same_way(pulses: tuple[int, int, int]) -> None:
    """Only forward is negated: sideways and turning come out right by themselves, to rounding."""
    plan = holonomic()
    upright = motion(HOLONOMIC_PLACES, HOLONOMIC_HEADINGS, spins_of(plan, list(pulses), 0), UPRIGHT)
    rolled = motion(HOLONOMIC_PLACES, HOLONOMIC_HEADINGS, spins_of(plan, list(pulses), 1), ROLLED)
    assert rolled == pytest.approx(upright, abs=2e-4 * RADIUS / 0.1)
