"""The watcher's arithmetic against the core's, and what the core asks for against exact arithmetic."""

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from mixer.core import ops
from mixer.core.plan import Plan
from mixer.failsafe.proof import exact
from mixer.failsafe.proof.exact import _said, exactness
from mixer.laws import arithmetic
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


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.name)
def test_every_target_comes_within_a_few_parts_of_exact_arithmetic(plan: Plan) -> None:
    """Every pulse of every stick, the others at rest and both ends; a gain a little off is told."""
    found = exactness(plan)
    assert found.holds
    assert found.worst <= CLOSE
    assert found.points >= 1000 * len(plan.sticks)
    gentler = [replace(output, gain=output.gain - 200) for output in plan.outputs]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            exact, "_said", lambda _, inputs: _said(replace(plan, outputs=tuple(gentler)), inputs)
        )
        assert not exactness(plan).holds
