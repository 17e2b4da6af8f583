"""Plane motion, traction and braking against course sheets and friction tables."""

import math

import pytest

from mixer.plant.parts.mass import wheel_loads
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Wheel
from mixer.plant.parts.traction import traction_limit
from mixer.plant.step.motion import Body, driving_direction, pose_after
from mixer.plant.step.trace import FloatArithmetic
from tests.published.tables import rows_of

STEPS = 4000


@pytest.mark.parametrize("row", rows_of("diffdrive.csv"))
def test_pose_after_constant_speeds(row: dict[str, str]) -> None:
    """Nine arcs (Freiburg course sheet, O'Kane CSCE 452, roboticstoolbox DiffSteer; `diffdrive.csv`).

    By the step's own kinematics in short steps: the motion whose wheels roll at the given speeds.
    """
    number = {key: float(value) for key, value in row.items() if key != "source"}
    left, right, track = number["vL"], number["vR"], number["W"]
    body = Body((left + right) / 2, 0.0, (right - left) / track)
    assert rolling(body, track) == pytest.approx((left, right))
    pose = [number["x0"], number["y0"], number["th0"]]
    for _ in range(STEPS):
        pose = pose_after(FloatArithmetic(), pose, body, number["t"] / STEPS)
    assert pose == pytest.approx((number["x"], number["y"], number["th"]), rel=1e-6, abs=1e-6)


def rolling(body: Body, track: float) -> tuple[float, float]:
    """Speeds (left, right) of the floor under two wheels as the step sees them."""
    wheels = [Wheel(side, 0, 0.0, y, 0.03, 1.0) for side, y in (("left", track / 2), ("right", -track / 2))]
    left, right = (body.along(*driving_direction(wheel)) for wheel in wheels)
    return left, right


def test_wheel_speeds_of_a_turn() -> None:
    """A turn of +pi in 4 s on a 10 cm track takes 5·pi/4 cm/s on the right (O'Kane, CSCE 452, hw 3)."""
    assert rolling(Body(0.0, 0.0, math.pi / 4), 10.0) == pytest.approx((-3.92699081699, 3.92699081699))


def test_traction_with_magnet() -> None:
    """1.4 kg on mu = 0.8 grips 10.99 N, with 40 N of magnets 42.99 N (Coulomb's law, computed by hand)."""
    assert traction_limit(0.8, 1.4 * GRAVITY) == pytest.approx(10.98, abs=0.01)
    assert traction_limit(0.8, 1.4 * GRAVITY, 40.0) == pytest.approx(42.98, abs=0.01)


def test_two_axle_loads() -> None:
    """Weight splits between two axles by the lever arms, W·b/L and W·a/L (statics, any text)."""
    loads = wheel_loads([(0.2, 0.1), (0.2, -0.1), (-0.1, 0.1), (-0.1, -0.1)], 3.0, (0.0, 0.0))
    assert loads[0] + loads[1] == pytest.approx(3.0 * GRAVITY * 0.1 / 0.3)
    assert loads[2] + loads[3] == pytest.approx(3.0 * GRAVITY * 0.2 / 0.3)
