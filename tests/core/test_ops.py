"""The named operations against their written contracts."""

import math
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixer.core import ops
from mixer.core.ops import HALF, ONE
from tests.core.checked import Checked, CheckedFlag, number_of, truth_of

int32 = st.integers(-(2**31), 2**31 - 1)
FACTOR = st.integers(-(2**15), 2**15)
"""Two of these multiply to at most 2**30, well within what `mul` allows."""


def half_away(exact: Fraction) -> int:
    """Round to nearest, halves away from zero; the rule `mul` promises."""
    sign = -1 if exact < 0 else 1
    return sign * math.floor(abs(exact) + Fraction(1, 2))


@given(FACTOR, FACTOR)
@example(1, HALF)
@example(-1, HALF)
@example(3, HALF)
@example(-3, -HALF)
def test_mul_rounds_halves_away_from_zero(a: int, b: int) -> None:
    """mul(a, b) is a*b/ONE to the nearest, halves away from zero, for either sign of either factor."""
    expected = half_away(Fraction(a * b, ONE))
    assert ops.mul(a, b) == expected
    assert number_of(ops.mul(Checked(a), b)) == expected
    assert number_of(ops.mul(a, Checked(b))) == expected


@given(FACTOR, FACTOR)
def test_mul_is_odd_in_both_factors(a: int, b: int) -> None:
    """Mirrored factors give mirrored products."""
    assert ops.mul(-a, b) == ops.mul(a, -b) == -ops.mul(a, b)


def test_mul_meets_every_half_and_its_neighbours() -> None:
    """Every tie and the products next to it, both signs."""
    for whole in range(-40, 40):
        for offset in (-1, 0, 1):
            product = whole * ONE + HALF + offset
            assert ops.mul(product, 1) == half_away(Fraction(product, ONE))


def test_mul_by_full_changes_nothing() -> None:
    """Full times a command is the command, for all commands."""
    assert all(ops.mul(x, ONE) == x == ops.mul(ONE, x) for x in range(-ONE, ONE + 1))


def test_mul_at_the_end_of_its_range_fits_an_int32() -> None:
    """The largest product the contract allows does not overflow on the way."""
    largest = 2**31 - 1 - HALF
    assert number_of(ops.mul(Checked(largest), 1)) == half_away(Fraction(largest, ONE))
    assert number_of(ops.mul(Checked(-largest), 1)) == -half_away(Fraction(largest, ONE))
    with pytest.raises(AssertionError, match="int32"):
        ops.mul(Checked(largest + 1), 1)


@given(int32, st.integers(0, 31))
def test_shift_right_is_a_floor(x: int, bits: int) -> None:
    """Shifting divides by a power of two and rounds down, below zero as well."""
    assert ops.shift_right(x, bits) == math.floor(Fraction(x, 2**bits))
    assert number_of(ops.shift_right(Checked(x), bits)) == math.floor(Fraction(x, 2**bits))


@given(st.integers(0, 2**31 - 1), st.integers(1, 2**31 - 1))
def test_divide_is_a_floor(a: int, b: int) -> None:
    """Dividing a non-negative by a positive number rounds down, also with a symbol on either side."""
    expected = math.floor(Fraction(a, b))
    assert ops.divide(a, b) == expected
    assert number_of(ops.divide(Checked(a), b)) == expected
    assert number_of(ops.divide(a, Checked(b))) == expected


@given(int32, int32)
def test_minimum_and_maximum(a: int, b: int) -> None:
    """They agree with Python's own, on ints and on symbols."""
    assert (ops.minimum(a, b), ops.maximum(a, b)) == (min(a, b), max(a, b))
    assert number_of(ops.minimum(Checked(a), b)) == min(a, b)
    assert number_of(ops.maximum(Checked(a), Checked(b))) == max(a, b)


@given(int32, int32, int32)
def test_clamp_holds_within(x: int, one_end: int, other_end: int) -> None:
    """The nearest number within the range, on ints and on symbols."""
    low, high = sorted((one_end, other_end))
    expected = sorted((low, x, high))[1]
    assert ops.clamp(x, low, high) == expected
    assert number_of(ops.clamp(Checked(x), low, high)) == expected


@given(st.integers(1 - 2**31, 2**31 - 1))
def test_magnitude_is_the_absolute_value(x: int) -> None:
    """For all but the one number whose negative does not fit."""
    assert ops.magnitude(x) == abs(x) == number_of(ops.magnitude(Checked(x)))


@pytest.mark.parametrize("holds", [False, True])
def test_flags_become_numbers_and_opposites(holds: bool) -> None:
    """as_number, negation and select agree on plain flags and on symbols."""
    flag = CheckedFlag(holds)
    assert ops.as_number(holds) == int(holds) == number_of(ops.as_number(flag))  # type: ignore[arg-type]
    assert ops.negation(holds) is (not holds)
    assert truth_of(ops.negation(flag)) is (not holds)  # type: ignore[arg-type]
    assert ops.select(holds, 7, -7) == (7 if holds else -7)
    assert number_of(ops.select(flag, 7, -7)) == (7 if holds else -7)  # type: ignore[arg-type]


def test_watched_numbers_notice_what_they_are_there_for() -> None:
    """A stage that branches or overflows would be found out: the watch itself can fail."""
    with pytest.raises(AssertionError, match="branched"):
        bool(Checked(1) > 0)
    with pytest.raises(AssertionError, match="truth"):
        bool(Checked(1))
    with pytest.raises(AssertionError, match="int32"):
        Checked(2**30) + Checked(2**30)
    with pytest.raises(AssertionError, match="divide"):
        ops.divide(Checked(-1), 2)
