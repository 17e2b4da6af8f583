"""Floats become integers as stated: to nearest for commands, up for times."""

import math

import pytest
from fxpmath import Fxp
from hypothesis import given
from hypothesis import strategies as st

from mixer.core.intake import scale
from mixer.core.ops import HALF, ONE
from mixer.profile.integers.quantize import (
    edges_of,
    q14,
    q14_below_one,
    q14_share,
    reciprocal,
    shape_of,
    step,
    step_ms,
    stop_ticks,
    ticks,
    travel_limit,
)
from mixer.profile.profile import parse_profile
from mixer.profile.schema.channels import Shape
from tests.profile.texts import BASE


@given(st.floats(-4, 4))
def test_q14_agrees_with_a_fixed_point_library(value: float) -> None:
    """Q14 to nearest, against fxpmath 0.4.10 (signed, 14 fractional bits), which differs on halves only."""
    theirs = int(Fxp(value, signed=True, n_word=32, n_frac=14, rounding="around").raw())
    on_a_half = abs(value) * ONE % 1 == 0.5

    assert q14(value) == theirs or (on_a_half and abs(q14(value) - theirs) == 1)
    assert q14(-value) == -q14(value)


def test_halves_round_away_from_zero() -> None:
    """Half a step of Q14 becomes a whole one, on both sides of zero."""
    assert [q14(n / ONE / 2) for n in (-3, -1, 0, 1, 3)] == [-2, -1, 0, 1, 2]
    assert (q14_share(1e-9), q14_below_one(0.99999)) == (1, ONE - 1)


@given(st.floats(0, 60_000), st.integers(1, 20))
def test_times_round_up(milliseconds: float, tick_ms: int) -> None:
    """Nothing lasts shorter than the profile says, nor a whole tick longer."""
    count = ticks(milliseconds, tick_ms)

    assert count * tick_ms >= milliseconds > (count - 1) * tick_ms or count == 0 == milliseconds
    assert ticks(milliseconds, tick_ms, 1) == max(count, 1)


@given(st.floats(0, 60_000), st.integers(1, 20))
def test_steps_are_the_nearest(full_ms: float, tick_ms: int) -> None:
    """No other step a tick comes nearer to the slope asked for; 0 and one tick are at once."""
    found = step(full_ms, tick_ms)

    assert 1 <= found <= ONE
    if full_ms <= tick_ms:
        assert (found, step_ms(found, tick_ms)) == (ONE, 0)
    elif found > 1:
        assert abs(found - ONE * tick_ms / full_ms) <= 0.5 + 1e-9
        assert step_ms(found, tick_ms) == math.ceil(ONE / found) * tick_ms


def test_edges_stand_at_the_middle_and_the_quarter_points() -> None:
    """Two positions change over in the middle, three at the quarters, halves of a µs up."""
    assert edges_of(1000, 2000, 2) == (1500,)
    assert edges_of(1000, 2001, 2) == (1501,)
    assert edges_of(1000, 2000, 3) == (1250, 1750)


def test_travel_and_stop_are_reckoned_in_whole_ticks() -> None:
    """3 s of travel at 2 ms with half again are 2250 full ticks; a ramp takes the slowest output's."""
    assert travel_limit(3000, 1.5, 2) == 2250 * ONE
    assert stop_ticks([(ONE, ONE), (8192, 100)], ramps=True) == 82
    assert stop_ticks([(ONE, 1)], ramps=False) == 1


@given(st.integers(1, 4000))
def test_reciprocal_brings_full_stick_to_full(span: int) -> None:
    """The gain misses ONE²/span by half a step at most, so Q14 rounding gives exactly full."""
    assert abs(span * reciprocal(span) - ONE * ONE) * 2 <= span
    assert reciprocal(0) == 0


def test_shape_is_three_shares_and_the_gain_of_the_deadband() -> None:
    """A tenth of deadband leaves nine tenths, which are stretched by ten ninths."""
    shape = shape_of(Shape(deadband=0.1, expo=-0.25, rate=0.5))

    assert (shape.band, shape.expo, shape.rate) == (1638, -4096, HALF)
    assert shape.gain == round(ONE / 0.9) == 18204 or abs(shape.gain - ONE / 0.9) < 1


@pytest.mark.parametrize(
    ("pulse", "command"), [(1000, -ONE), (1250, -HALF), (1500, 0), (1750, HALF), (2000, ONE)]
)
def test_defaults_follow_the_servo_pulse_convention(pulse: int, command: int) -> None:
    """1 to 2 ms around 1.5 ms are the range and its middle.

    Source of the pulse range: Texas Instruments application brief SLAA784, "Servo Motor Controller
    Using MSP430 MCUs", September 2017; the centre of 1.5 ms is common practice.
    """
    stick = next(stick for stick in parse_profile(BASE, "p.toml").plan().sticks if stick.name == "throttle")

    assert scale(stick, pulse) == command
