"""Deadband, expo and rate over every command there is."""

import math
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixer.core import intake, shape
from mixer.core.ops import ONE
from mixer.core.plan import ShapePlan, StickPlan
from tests.plans import plain_shape, plain_stick
from tests.strategies import commands, rounded_ratio

EVERY_COMMAND = range(-ONE, ONE + 1)
EXPOS = sorted({-8192, -8191, -4097, -1, 1, 2, 8191, 8192, 12345, 16383, 16384, *range(-8192, 16385, 2731)})
BANDS = (1, 2, 137, 819, 4096, 8191, 12000, 16000, 16382, 16383)
RATES = (1, 2, 100, 8191, 9999, 16383)


def assert_odd_rising_and_full(bent: list[int], full: int) -> None:
    """The laws of every stage, over all 32,769 commands: odd, never turning back, full at full."""
    assert bent == [-value for value in reversed(bent)]
    assert all(a <= b for a, b in pairwise(bent))
    assert bent[-1] == full


@pytest.mark.parametrize("k", EXPOS)
def test_expo_over_every_command(k: int) -> None:
    """Expo is odd, never turns back, reaches full, and stays within 2 of y = (1-k)x + kx³."""
    bent = [shape.expo(x, k) for x in EVERY_COMMAND]
    assert_odd_rising_and_full(bent, ONE)
    share = k / ONE
    for x, y in zip(range(ONE + 1), bent[ONE:], strict=True):
        away = x / ONE
        assert abs(y - ((1 - share) * away + share * away**3) * ONE) <= 2


@pytest.mark.parametrize("band", BANDS)
def test_deadband_over_every_command(band: int) -> None:
    """Nothing within the band, no jump at its edge, full at full, within 1 of the stretched line."""
    bent = [shape.deadband(x, band, rounded_ratio(ONE - band)) for x in EVERY_COMMAND]
    assert_odd_rising_and_full(bent, ONE)
    assert bent[ONE - band : ONE + band + 1] == [0] * (2 * band + 1)
    for x in range(band, ONE + 1):
        assert abs(bent[ONE + x] - (x - band) * ONE / (ONE - band)) <= 1
    slope = math.ceil(ONE / (ONE - band))
    assert all(b - a <= slope for a, b in pairwise(bent))


@pytest.mark.parametrize("most", RATES)
def test_rate_over_every_command(most: int) -> None:
    """Rate is odd, never turns back, gives exactly `most` at full, within half of the line."""
    bent = [shape.rate(x, most) for x in EVERY_COMMAND]
    assert_odd_rising_and_full(bent, most)
    assert all(abs(y - x * most / ONE) <= 0.5 for x, y in zip(EVERY_COMMAND, bent, strict=True))


@pytest.mark.parametrize(
    "plan", [plain_shape(819, 6554), plain_shape(2000, -8192, 9000), plain_shape(0, 16384, 1)]
)
def test_whole_shape_over_every_command(plan: ShapePlan) -> None:
    """The three in a row keep the laws of each."""
    assert_odd_rising_and_full([shape.shape(plan, x).rated for x in EVERY_COMMAND], plan.rate)


@given(
    st.integers(0, ONE - 1),
    st.integers(-ONE // 2, ONE),
    st.integers(1, ONE),
    st.lists(commands, min_size=2),
)
def test_any_shape_is_odd_and_rising(band: int, k: int, most: int, points: list[int]) -> None:
    """For any band, expo and rate, at any commands: odd, rising, within ±rate."""
    plan = plain_shape(band, k, most)
    points.sort()
    bent = [shape.shape(plan, x).rated for x in points]
    assert bent == sorted(bent)
    assert all(abs(y) <= most for y in bent)
    assert [shape.shape(plan, -x).rated for x in points] == [-y for y in bent]
    assert shape.shape(plan, ONE).rated == most


def test_nothing_switched_on_changes_nothing() -> None:
    """Without band, expo and rate every command passes as it is."""
    assert all(shape.shape(plain_shape(), x) == (x, x, x) for x in EVERY_COMMAND)


@given(commands, st.integers(0, 4))
@example(ONE, 2)
def test_the_chosen_shape_is_the_one_at_the_position(x: int, position: int) -> None:
    """Each position has its own shape; the last also serves anything beyond it."""
    shapes = (plain_shape(rate=5000), plain_shape(800), plain_shape(expo=9000))
    assert shape.shape_chosen(shapes, position, x) == shape.shape(shapes[min(position, 2)], x)


STICKS = [
    plain_stick("even", 0),
    plain_stick("reversed", 0, reverse=True),
    plain_stick("trimmed", 0, trim=-700),
    plain_stick("uneven", 0, low_span_us=423, low_gain=rounded_ratio(423)),
    plain_stick("one side", 0, low_span_us=0, low_gain=0),
    plain_stick("other side", 0, high_span_us=0, high_gain=0, reverse=True),
    plain_stick("narrow", 0, low_span_us=1, low_gain=ONE * ONE, high_span_us=1, high_gain=ONE * ONE),
]


@pytest.mark.parametrize("stick", STICKS, ids=lambda stick: stick.name)
def test_every_pulse_a_timer_can_read(stick: StickPlan) -> None:
    """Over all 65,536 pulses scale and shape never turn back and stay within full."""
    plan = plain_shape(500, 8000, 15000)
    bent = [shape.shape(plan, intake.scale(stick, pulse)).rated for pulse in range(65536)]
    steps = list(pairwise(bent))
    assert all(a >= b for a, b in steps) if stick.reverse else all(a <= b for a, b in steps)
    assert max(map(abs, bent)) <= 15000
