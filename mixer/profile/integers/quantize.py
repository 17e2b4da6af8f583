"""Where every float of a profile becomes an integer, each by one function that states its rounding.

Commands are Q14 (`ONE` = full) and round to nearest, halves away from zero. Times become ticks and
round up, so that nothing lasts shorter than the profile says; a slew rounds to the nearest step a
tick. Nothing else in the program turns a profile's float into an integer. Exact fractions take their time,
and a robot being tuned asks for the same numbers again and again, so that answers are remembered.
"""

from fractions import Fraction
from functools import lru_cache

from mixer.core.ops import ONE
from mixer.core.plan import ShapePlan
from mixer.profile.schema.channels import Shape


@lru_cache(maxsize=4096)
def q14(value: float) -> int:
    """`value` in Q14, to nearest, halves away from zero (exactly odd)."""
    size = Fraction(abs(value)) * ONE
    rounded = int(size + Fraction(1, 2))
    return -rounded if value < 0 else rounded


def q14_share(value: float) -> int:
    """A share that must not become zero, such as a limit: at least one step of Q14."""
    return max(q14(value), 1)


def q14_below_one(value: float) -> int:
    """A share that must stay below full, such as a breakaway: at most ONE - 1."""
    return min(q14(value), ONE - 1)


@lru_cache(maxsize=4096)
def ticks(milliseconds: float, tick_ms: int, least: int = 0) -> int:
    """Whole ticks, rounded up, `least` at least."""
    return max(-int(-Fraction(milliseconds) // tick_ms), least)


@lru_cache(maxsize=4096)
def step(full_ms: float, tick_ms: int) -> int:
    """The change a tick that runs from zero to full in `full_ms`, to nearest; ONE for at once."""
    if full_ms <= tick_ms:
        return ONE
    return min(max(int(Fraction(ONE * tick_ms) / Fraction(full_ms) + Fraction(1, 2)), 1), ONE)


def step_ms(a_step: int, tick_ms: int) -> int:
    """The time a step really takes from zero to full, in ms; 0 for at once."""
    return 0 if a_step == ONE else -(-ONE // a_step) * tick_ms


def reciprocal(span: int) -> int:
    """round(ONE² / span), halves up; 0 for a span of 0: what makes a span of µs into a full command."""
    return (ONE * ONE + span // 2) // span if span else 0


def shape_of(shape: Shape) -> ShapePlan:
    """Deadband, expo and rate in Q14, and the gain that brings full stick back to full."""
    band = q14(shape.deadband)
    return ShapePlan(band, reciprocal(ONE - band), q14(shape.expo), q14_share(shape.rate))


def edges_of(low_us: int, high_us: int, positions: int) -> tuple[int, ...]:
    """Where a switch changes over: the middle, or the quarter points; whole µs, halves up."""
    span = high_us - low_us
    if positions == 2:
        return ((low_us + high_us + 1) // 2,)
    return low_us + (span + 2) // 4, low_us + (3 * span + 2) // 4


def travel_limit(full_travel_ms: float, margin: float, tick_ms: int) -> int:
    """Sum of full commands over the ticks of the whole travel, times the margin, rounded up."""
    return -int(-ONE * ticks(full_travel_ms, tick_ms, 1) * Fraction(margin) // 1)


def stop_ticks(limits_and_steps: list[tuple[int, int]], *, ramps: bool) -> int:
    """Ticks from the one in which a loss is seen, counted in, until every output is at zero.

    `limits_and_steps` holds each output's limit and step down. A cut takes the one tick.
    """
    if not ramps:
        return 1
    return max((-(-limit // down) for limit, down in limits_and_steps), default=1)
