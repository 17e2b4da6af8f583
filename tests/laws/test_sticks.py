"""The watcher's arithmetic and account of the sticks, against the core and against exact fractions."""

from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest

from mixer.core import ops
from mixer.core.plan import Plan, ShapePlan, StickPlan
from mixer.laws import arithmetic
from mixer.laws.sticks import bent
from mixer.profile.profile import load_profile
from tests.failsafe.wrong_cores import RICH

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
PLANS = [*(load_profile(path).plan() for path in PROFILES), RICH]
NUMBERS = (-40000, -16385, -16384, -8192, -1, 0, 1, 3, 8191, 8192, 16384, 40000)
CLOSE = 4
"""Parts of 16384: half a part of rounding for each of scale, deadband, expo (two of them) and rate."""


def test_the_watchers_arithmetic_is_the_cores() -> None:
    """Two texts of each operation, one meaning."""
    for a, b in product(NUMBERS, repeat=2):
        assert arithmetic.minimum(a, b) == ops.minimum(a, b) == min(a, b)
        assert arithmetic.maximum(a, b) == ops.maximum(a, b) == max(a, b)
        assert arithmetic.magnitude(a) == ops.magnitude(a) == abs(a)
        assert arithmetic.select(a < b, a, b) == ops.select(a < b, a, b)
        assert arithmetic.as_number(arithmetic.negation(a < b)) == ops.as_number(ops.negation(a < b))
        if abs(a * b) < 2**31 - ops.ONE:
            assert arithmetic.mul(a, b) == ops.mul(a, b)
        if a >= 0 and b > 0:
            assert arithmetic.divide(a, b) == ops.divide(a, b) == a // b
        low, high = sorted((a, b))
        assert all(arithmetic.clamp(x, low, high) == ops.clamp(x, low, high) for x in NUMBERS)


def exactly(stick: StickPlan, shape: ShapePlan, pulse: int) -> Fraction:
    """The command of a pulse without any rounding: scale, trim, deadband, cubic expo, rate."""
    way = Fraction(pulse - stick.centre_us)
    span = stick.low_span_us if way < 0 else stick.high_span_us
    x = max(min(way / span, Fraction(1)), Fraction(-1)) if span else Fraction(0)
    one = arithmetic.ONE
    x = max(min((-x if stick.reverse else x) + Fraction(stick.trim, one), Fraction(1)), Fraction(-1))
    band, k = Fraction(shape.band, one), Fraction(shape.expo, one)
    x = (x - max(min(x, band), -band)) / (1 - band)
    return ((1 - k) * x + k * x**3) * Fraction(shape.rate, one) * one


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.name)
def test_every_pulse_comes_within_a_few_parts_of_exact_arithmetic(plan: Plan) -> None:
    """Every good pulse of every stick, in every position of the switch that chooses its shape."""
    tried = 0
    for stick in plan.sticks:
        wire = plan.channels[stick.channel]
        for position, shape in enumerate(stick.shapes):
            positions = [position] * len(plan.switches)
            for pulse in range(wire.good_low_us, wire.good_high_us + 1):
                command = bent(stick, pulse, positions, False).command
                assert abs(command - exactly(stick, shape, pulse)) <= CLOSE, (stick.name, pulse)
                tried += 1
    assert tried >= 1000 * len(plan.sticks)
