"""Plane motion, traction and braking against course sheets and friction tables."""

import pytest

from mixer.plant.parts.mass import wheel_loads
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.step.chassis import differential_speeds, pose_after, wheel_speeds
from mixer.plant.step.wheels import magnet_pull, traction_limit
from tests.published.tables import rows_of


@pytest.mark.parametrize("row", rows_of("diffdrive.csv"))
def test_pose_after_constant_speeds(row: dict[str, str]) -> None:
    """Nine arcs (Freiburg course sheet, O'Kane CSCE 452, roboticstoolbox DiffSteer; `diffdrive.csv`)."""
    number = {key: float(value) for key, value in row.items() if key != "source"}
    forward, turn = differential_speeds(number["vL"], number["vR"], number["W"])
    pose = pose_after((number["x0"], number["y0"], number["th0"]), forward, turn, number["t"])
    assert pose == pytest.approx((number["x"], number["y"], number["th"]), rel=1e-9, abs=1e-9)


def test_wheel_speeds_of_a_turn() -> None:
    """A turn of +pi in 4 s on a 10 cm track takes 5·pi/4 cm/s on the right (O'Kane, CSCE 452, hw 3)."""
    left, right = wheel_speeds(0.0, 3.141592653589793 / 4, 10.0)
    assert (left, right) == pytest.approx((-3.92699081699, 3.92699081699))


def test_traction_with_magnet() -> None:
    """1.4 kg on mu = 0.8 grips 10.99 N, with 40 N of magnets 42.99 N (Coulomb's law, computed by hand)."""
    assert traction_limit(0.8, 1.4 * GRAVITY) == pytest.approx(10.98, abs=0.01)
    assert traction_limit(0.8, 1.4 * GRAVITY, 40.0) == pytest.approx(42.98, abs=0.01)


def test_magnet_pull() -> None:
    """1 T over 1 cm² pulls 39.79 N (Maxwell stress, textbook formula)."""
    assert magnet_pull(1.0, 1e-4) == pytest.approx(39.79, abs=0.005)


def test_two_axle_loads() -> None:
    """Weight splits between two axles by the lever arms, W·b/L and W·a/L (statics, any text)."""
    loads = wheel_loads([(0.2, 0.1), (0.2, -0.1), (-0.1, 0.1), (-0.1, -0.1)], 3.0, (0.0, 0.0))
    assert loads[0] + loads[1] == pytest.approx(3.0 * GRAVITY * 0.1 / 0.3)
    assert loads[2] + loads[3] == pytest.approx(3.0 * GRAVITY * 0.2 / 0.3)
