"""The statistics: against published numbers, and against other programs and plain counting."""

import itertools
import math

import numpy as np
import pytest
import scipy.stats

from mixer.course.study.signs import by_chance, interval, kept
from mixer.course.study.size import LEAST, MOST, pairs_for, pairs_needed

DARWIN = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], float)
"""Differences in height of 15 pairs of plants, in eighths of an inch: R. A. Fisher, "The Design of
Experiments" (1935), §17, after C. Darwin (1876)."""


def test_fishers_own_example() -> None:
    """§21: of 32,768 arrangements 863 have a sum of 314 or more; either way that is 5.267 %."""
    assert DARWIN.sum() == 314
    signs = np.where(kept(15), 1, -1)
    assert int((signs @ DARWIN >= 314).sum()) == 863
    assert by_chance(DARWIN[:, None])[0] == pytest.approx(2 * 863 / 32768)


@pytest.mark.parametrize("pairs", [6, 9])
def test_one_measure_as_scipy_has_it(pairs: int) -> None:
    """The permutation test of paired samples of SciPy gives the same chance."""
    data = np.random.default_rng(3).normal(0.4, 1.0, (pairs, 1))
    found = scipy.stats.permutation_test(
        (data[:, 0], np.zeros(pairs)),
        lambda x, y: np.mean(x - y),
        permutation_type="samples",
        n_resamples=10**6,
    )
    assert by_chance(data)[0] == pytest.approx(found.pvalue)


def test_several_measures_as_counted_one_by_one() -> None:
    """Step-down by the largest (Westfall and Young 1993), with loops for six pairs and three measures."""
    data = np.random.default_rng(8).normal([1.2, 0.3, 0.0], 1.0, (6, 3))

    def size(column: int, signs: tuple[int, ...]) -> float:
        total = sum(sign * value for sign, value in zip(signs, data[:, column], strict=True))
        return abs(total) / math.sqrt(sum(value * value for value in data[:, column]))

    seen = [size(column, (1,) * 6) for column in range(3)]
    order = sorted(range(3), key=lambda column: -seen[column])
    expected, highest = {}, 0.0
    for place, column in enumerate(order):
        all_signs = list(itertools.product((1, -1), repeat=6))
        as_large = sum(max(size(c, s) for c in order[place:]) >= seen[column] - 1e-9 for s in all_signs)
        highest = max(highest, as_large / len(all_signs))
        expected[column] = highest
    assert by_chance(data) == pytest.approx([expected[column] for column in range(3)])


def test_several_measures_are_harder_to_tell_than_one() -> None:
    """No measure's chance gets smaller by looking at others too, and equal measures cost nothing."""
    data = np.random.default_rng(4).normal(0.6, 1.0, (8, 5))
    alone = [float(by_chance(data[:, [column]])[0]) for column in range(5)]
    assert (by_chance(data) >= np.array(alone) - 1e-12).all()
    assert by_chance(data[:, [0, 0, 0]]) == pytest.approx([alone[0]] * 3)
    assert by_chance(np.zeros((6, 2))) == pytest.approx([1, 1])


def test_the_interval_turns_the_test_round() -> None:
    """Just inside its ends the shifted differences pass Fisher's test at 5 %, just outside they do not."""
    for seed in range(5):
        data = np.random.default_rng(seed).normal(0.5, 1.0, 8)
        found = interval(data, 0.95)
        assert found is not None
        for end, inside in zip(found, (1, -1), strict=True):
            assert by_chance((data - (end + inside * 1e-6))[:, None])[0] > 0.05
            assert by_chance((data - (end - inside * 1e-6))[:, None])[0] <= 0.05
    assert interval(np.arange(5.0), 0.95) is None


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Hartigan 1969: with 7 pairs, 3 of 128 pieces left out at each end, it covers 122/128 exactly."""
    dice = np.random.default_rng(11)
    inside = 0
    for _ in range(2000):
        low, high = interval(dice.standard_t(3, 7), 0.95) or (0.0, 0.0)
        inside += low <= 0 <= high
    assert inside / 2000 == pytest.approx(122 / 128, abs=3 * math.sqrt(0.05 * 0.95 / 2000))


def test_many_pairs_are_drawn() -> None:
    """With 20 pairs signs are drawn; the chance is near Student's, and is the same each time."""
    data = np.random.default_rng(2).normal(0.5, 1.0, (20, 1))
    expected = scipy.stats.ttest_1samp(data[:, 0], 0).pvalue
    assert by_chance(data)[0] == pytest.approx(expected, abs=0.01)
    assert by_chance(data)[0] == by_chance(data)[0]
    low, high = interval(data[:, 0], 0.95) or (0.0, 0.0)
    reach = scipy.stats.t.interval(0.95, 19, data.mean(), data.std(ddof=1) / math.sqrt(20))
    assert (low, high) == pytest.approx(reach, abs=0.08)


@pytest.mark.parametrize(("ratio", "pairs"), [(0.2, 199), (0.5, 34), (0.8, 15), (1.0, 10)])
def test_pairs_for_a_power_as_students_test_needs_them(ratio: float, pairs: int) -> None:
    """Guenther's number (1981) for 80 % at 5 %, and the exact power of Student's test about it."""
    assert pairs_for(1.0, ratio, 0.05, 0.8) == pairs

    def power(count: int) -> float:
        bound = scipy.stats.t.ppf(0.975, count - 1)
        return float(scipy.stats.nct.sf(bound, count - 1, ratio * math.sqrt(count)))

    assert power(pairs) >= 0.8
    assert power(pairs - 2) < 0.8


def test_the_number_of_pairs_asks_nothing_of_signs() -> None:
    """It stays whichever way round the differences are, so that it tells nothing of them."""
    differences = [0.3, -0.2, 0.4, 0.1, 0.25]
    for signs in itertools.product((1, -1), repeat=5):
        turned = [sign * value for sign, value in zip(signs, differences, strict=True)]
        assert pairs_needed(turned, 0.2, 0.04, 0.8) == pairs_needed(differences, 0.2, 0.04, 0.8)
    assert pairs_needed(differences[:3], 0.2, 0.04, 0.8) is None
    assert pairs_needed([1e-9] * 6, 0.2, 0.04, 0.8) == LEAST
    assert pairs_needed([50.0] * 6, 0.2, 0.04, 0.8) == MOST
