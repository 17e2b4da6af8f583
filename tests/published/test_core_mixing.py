"""Tank mixing and differential-drive motion against published identities and poses.

Mix: max(|v-w|, |v+w|) = |v| + |w|, so the unsaturated commands are the diamond |v| + |w| <= 1 (Lynch and
Park, Modern Robotics, sec. 13.3.1, from memory; the identity itself is elementary).
Poses: data/diffdrive.csv. Freiburg "Introduction to Mobile Robotics" sheet 3, ex. 2, and O'Kane, CSCE
452/752 homework 3 (Texas A&M, 2025); checked with roboticstoolbox 1.5.0 DiffSteer.
"""

import math

import pytest

from mixer.core.ops import ONE
from mixer.core.plan import OverRange
from mixer.core.tick import blend_outputs
from tests.plans import tank_plan
from tests.published.tables import rows_of


def sides(policy: OverRange, throttle: int, turn: int) -> tuple[int, int]:
    """Left and right command; turn is counter-clockwise here, as the sources have it."""
    left, right = blend_outputs(tank_plan(policy), (throttle, -turn))[1]
    return left, right


def command(thousandths: str) -> int:
    """The table's full scale of 1000 in Q14."""
    return round(int(thousandths) * ONE / 1000)


@pytest.mark.parametrize("row", rows_of("mix_vectors.csv"), ids=lambda row: f"v={row['v']} w={row['w']}")
def test_mix_vectors(row: dict[str, str]) -> None:
    """Clip and scale give the table's sides within 0.15 of 1000; inside the diamond nothing is touched."""
    throttle, turn = command(row["v"]), command(row["w"])
    for policy, column in ((OverRange.CLIP, "clip"), (OverRange.SCALE, "scale")):
        left, right = sides(policy, throttle, turn)
        assert left * 1000 / ONE == pytest.approx(float(row[f"vL_{column}"]), abs=0.15)
        assert right * 1000 / ONE == pytest.approx(float(row[f"vR_{column}"]), abs=0.15)
    if row["inside"] == "1":
        for policy in OverRange:
            assert sides(policy, throttle, turn) == (throttle - turn, throttle + turn)


def test_scaling_keeps_the_turn_radius_and_clipping_does_not() -> None:
    """(900, 300): scaled sides keep w/v = 1/3, clipped ones have 1/4 (the table's telling row)."""
    throttle, turn = command("900"), command("300")
    left, right = sides(OverRange.SCALE, throttle, turn)
    assert (right - left) / (right + left) == pytest.approx(1 / 3, abs=1e-3)
    left, right = sides(OverRange.CLIP, throttle, turn)
    assert (right - left) / (right + left) == pytest.approx(1 / 4, abs=1e-3)


def test_diamond_over_a_grid() -> None:
    """A policy changes the sides just where |v| + |w| exceeds full."""
    for throttle in range(-ONE, ONE + 1, ONE // 16):
        for turn in range(-ONE, ONE + 1, ONE // 16):
            untouched = (throttle - turn, throttle + turn)
            inside = abs(throttle) + abs(turn) <= ONE
            for policy in OverRange:
                assert (sides(policy, throttle, turn) == untouched) == inside


def moved(
    pose: tuple[float, float, float], left: float, right: float, width: float, time: float
) -> list[float]:
    """The pose after constant wheel speeds: the exponential of a plane motion."""
    x, y, heading = pose
    speed, turning = (left + right) / 2, (right - left) / width
    angle = turning * time
    if abs(angle) < 1e-12:
        return [x + speed * time * math.cos(heading), y + speed * time * math.sin(heading), heading]
    radius = speed / turning
    return [
        x + radius * (math.sin(heading + angle) - math.sin(heading)),
        y - radius * (math.cos(heading + angle) - math.cos(heading)),
        heading + angle,
    ]


@pytest.mark.parametrize("policy", OverRange)
@pytest.mark.parametrize(
    "row", rows_of("diffdrive.csv"), ids=lambda row: f"{row['source']} {row['vL']} {row['vR']}"
)
def test_differential_drive_poses(row: dict[str, str], policy: OverRange) -> None:
    """Speed and turn asked of the mix move the robot to the published pose, to Q14 resolution."""
    width, left, right, time = (float(row[key]) for key in ("W", "vL", "vR", "t"))
    speed, turning = (left + right) / 2, (right - left) / width
    full = 1.1 * max(abs(left), abs(right))
    asked = (round(speed / full * ONE), round(turning * width / 2 / full * ONE))
    got_left, got_right = (side * full / ONE for side in sides(policy, *asked))
    start = (float(row["x0"]), float(row["y0"]), float(row["th0"]))
    pose = moved(start, got_left, got_right, width, time)
    step = full / ONE * time
    assert pose == pytest.approx(
        [float(row[key]) for key in ("x", "y", "th")],
        abs=max(step, 2 * step / width, abs(speed) * time * step),
    )
