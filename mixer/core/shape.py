"""Shape: how a stick's command is bent so that it drives the way the hands expect.

Every function is exactly odd and never turns back (checked over all inputs by the tests).
"""

from typing import NamedTuple

from mixer.core.ops import ONE, Value, clamp, mul, select
from mixer.core.plan import ShapePlan


class Shaped(NamedTuple):
    """A stick's command after each step of its shape."""

    banded: Value
    curved: Value
    rated: Value


def deadband(x: Value, band: int, gain: int) -> Value:
    """Nothing within ±band, then the rest of the stick stretched over the full range: no jump at the edge.

    `gain` is round(ONE² / (ONE - band)); full stick stays exactly full. |x| <= ONE.
    """
    return mul(x - clamp(x, -band, band), gain) if band else x


def expo(x: Value, k: int) -> Value:
    """Cubic expo y = (1-k)x + kx³: soft around the centre for k > 0, sharp for k < 0, full at full.

    Never turns back for -1/2 <= k <= 1: y' = 1 - k + 3kx². |x| <= ONE.
    """
    return mul(x, (ONE - k) + mul(k, mul(x, x))) if k else x


def rate(x: Value, most: int) -> Value:
    """Full stick gives `most`. |x| <= ONE."""
    return mul(x, most) if most != ONE else x


def shape(plan: ShapePlan, x: Value) -> Shaped:
    """Deadband, then expo, then rate. |x| <= ONE in and out."""
    banded = deadband(x, plan.band, plan.gain)
    curved = expo(banded, plan.expo)
    return Shaped(banded, curved, rate(curved, plan.rate))


def shape_chosen(shapes: tuple[ShapePlan, ...], position: Value, x: Value) -> Shaped:
    """The shape that belongs to a switch's position; the last one also serves anything beyond it."""
    chosen = shape(shapes[-1], x)
    for number, plan in enumerate(shapes[:-1]):
        here = shape(plan, x)
        at = position == number
        chosen = Shaped(
            select(at, here.banded, chosen.banded),
            select(at, here.curved, chosen.curved),
            select(at, here.rated, chosen.rated),
        )
    return chosen
