"""Mix and the three over-range policies."""

from fractions import Fraction

from hypothesis import assume, example, given
from hypothesis import strategies as st

from mixer.core import blend
from mixer.core.ops import ONE
from mixer.core.plan import OverRange, Plan
from mixer.core.tick import blend_outputs
from tests.plans import plain_plan, tank_plan
from tests.strategies import commands

weights = st.integers(-2 * ONE, 2 * ONE)
mixed = st.lists(st.integers(-4 * ONE, 4 * ONE), min_size=1, max_size=8)
parts = st.lists(st.tuples(st.integers(-2 * ONE, 2 * ONE), st.integers(-ONE, ONE)), min_size=1, max_size=8)


@given(st.lists(st.tuples(weights, commands), max_size=6))
def test_a_row_is_the_sum_of_its_contributions(terms: list[tuple[int, int]]) -> None:
    """Within half a step for each source of the exact sum; whole weights are exact; odd."""
    row, sources = [weight for weight, _ in terms], [source for _, source in terms]
    exact = sum((Fraction(weight * source, ONE) for weight, source in terms), Fraction(0))
    got = blend.mix(row, sources)
    assert abs(got - exact) <= Fraction(len(terms), 2)
    assert blend.mix(row, [-source for source in sources]) == -got
    if all(weight in (0, ONE, -ONE) for weight in row):
        assert got == exact


@given(commands)
def test_whole_weights_pass_the_source_exactly(x: int) -> None:
    """Nothing, all and all the other way round cost no rounding."""
    assert [blend.contribution(weight, x) for weight in (0, ONE, -ONE)] == [0, x, -x]


@given(mixed)
def test_scaling_keeps_ratios_and_the_largest_comes_to_full(values: list[int]) -> None:
    """Every value shrinks by one factor, at most ONE, within 4 of exact; nothing changes within range."""
    peak = max(ONE, *map(abs, values))
    got = blend.scale_together(values)
    assert all(abs(after) <= ONE for after in got)
    for before, after in zip(values, got, strict=True):
        assert abs(after - Fraction(before * ONE, peak)) <= 5
    if peak == ONE:
        assert got == values
    assert blend.scale_together([-value for value in values]) == [-value for value in got]


@given(st.permutations([3 * ONE, -ONE, 500, 0, 2 * ONE]))
def test_scaling_does_not_depend_on_order(values: list[int]) -> None:
    """Outputs listed in another order get the same commands."""
    got = dict(zip(values, blend.scale_together(values), strict=True))
    assert got == dict(zip(sorted(values), blend.scale_together(sorted(values)), strict=True))


@given(parts)
@example([(2 * ONE, ONE)])
@example([(0, ONE), (1, -ONE)])
def test_yielding_keeps_the_rest_untouched(members: list[tuple[int, int]]) -> None:
    """The rest passes whole; the yielding source shrinks by one factor and never changes its sign."""
    yielding, rest = [part for part, _ in members], [kept for _, kept in members]
    got = blend.give_way(yielding, rest)
    factors = []
    for part, kept, after in zip(yielding, rest, got, strict=True):
        assert abs(after) <= ONE
        given_part = after - kept
        assert abs(given_part) <= abs(part)
        assert given_part * part >= 0
        room = ONE - kept if part > 0 else ONE + kept
        if part:
            factors.append(min(Fraction(1), Fraction(room, abs(part))))
    factor = min(factors, default=Fraction(1))
    for part, kept, after in zip(yielding, rest, got, strict=True):
        assert abs(after - kept - part * factor) <= 3
    if factor == 1:
        assert got == [part + kept for part, kept in members]
    assert blend.give_way([-part for part in yielding], [-kept for kept in rest]) == [
        -value for value in got
    ]


@given(commands, commands)
def test_throttle_yields_and_steering_stays(throttle: int, turn: int) -> None:
    """In a tank drive the difference of the sides is the whole turn asked for, at any throttle."""
    left, right = blended(tank_plan(OverRange.YIELD), throttle, turn)
    assert left - right == 2 * turn
    assert max(abs(left), abs(right)) <= ONE


@given(commands, commands, st.sampled_from(tuple(OverRange)))
def test_within_range_no_policy_changes_anything(throttle: int, turn: int, policy: OverRange) -> None:
    """Where throttle and turn fit together, the mix passes exactly, whatever the policy."""
    assume(abs(throttle) + abs(turn) <= ONE)
    assert blended(tank_plan(policy), throttle, turn) == [throttle + turn, throttle - turn]


@given(st.lists(commands, min_size=3, max_size=3))
def test_a_rest_that_does_not_fit_by_itself_is_scaled_first(sources: list[int]) -> None:
    """Three sources of full weight, one yielding: still within full, and without the giver just scaled."""
    rows = ((ONE, ONE, ONE), (ONE, -ONE, ONE))
    group = tank_plan(OverRange.YIELD).groups
    got = blended(plain_plan(rows, groups=group), *sources)
    assert all(abs(value) <= ONE for value in got)
    alone = blended(plain_plan(rows, groups=group), 0, *sources[1:])
    assert alone == blend.scale_together([sources[1] + sources[2], sources[2] - sources[1]])


def blended(plan: Plan, *sources: int) -> list[int]:
    """What the mix stage makes of the sources."""
    return blend_outputs(plan, sources)[1]


def test_without_any_room_nothing_is_given() -> None:
    """One output full by the rest alone: the others get nothing of what gives way, not even a part."""
    assert blend.give_way((ONE, ONE), (ONE, 0)) == [ONE, 0]
