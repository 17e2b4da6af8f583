"""What can be told from differences of pairs, by turning their signs round: no assumption but symmetry.

Were both tunings equal, each difference could as well have had the other sign.

- Test: R. A. Fisher, "The Design of Experiments" (1935), §21.
- Several measures at once, free step-down with the largest of all: P. H. Westfall and S. S. Young,
  "Resampling-Based Multiple Testing" (1993), algorithm 4.1; it controls the chance of any false finding as
  S. Holm's (Scand. J. Statist. 6 (1979) 65-70) does, and takes into account that measures go together.
- Interval: the means of all subsets of the differences part the line into equally likely pieces;
  J. A. Hartigan, "Using subsample values as typical values", J. Am. Statist. Assoc. 64 (1969) 1303-1317.
- Of more than `EXACT` pairs signs are drawn, the ones found counted in: B. Phipson and G. K. Smyth,
  Statist. Appl. Genet. Mol. Biol. 9 (2010) 39.
"""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EXACT = 15
"""Pairs up to which each of the 2^n patterns is looked at."""
DRAWN = 10_000
SEED = 1935
"""Drawn patterns are the same each time, so that equal runs give equal words."""
EVEN = 1e-9
"""Sums that are equal but for rounding count as equal."""


@lru_cache(maxsize=4)
def kept(pairs: int) -> NDArray[np.bool_]:
    """(patterns, pairs): which differences keep their sign; the first row keeps all."""
    if pairs <= EXACT:
        every: NDArray[np.bool_] = (np.arange(1 << pairs)[:, None] >> np.arange(pairs) & 1) == 0
        return every
    drawn = np.random.default_rng(SEED).random((DRAWN, pairs)) < 0.5
    drawn[0] = True
    return drawn


def by_chance(differences: Floats) -> Floats:
    """(pairs, measures) -> for each measure how often chance gives a difference as large, either way.

    Adjusted for there being several measures. A measure whose differences are all 0 has 1.
    """
    pairs, measures = differences.shape
    sizes = np.sqrt((differences**2).sum(axis=0))
    sizes[sizes == 0] = 1.0
    signs = np.where(kept(pairs), 1.0, -1.0)
    sums = np.abs(signs @ (differences / sizes))
    order = np.argsort(-sums[0], kind="stable")
    most = np.maximum.accumulate(sums[:, order[::-1]], axis=1)[:, ::-1]  # of it and all smaller
    shares = (most >= sums[0, order] - EVEN).mean(axis=0)
    chances = np.ones(measures)
    chances[order] = np.maximum.accumulate(shares)
    return chances


def interval(differences: Floats, confidence: float) -> tuple[float, float] | None:
    """Where the true difference of one measure lies, with this confidence; None for too few pairs.

    It leaves out 0 exactly where Fisher's test alone would call the difference real at that level.
    """
    some, patterns = _subsets(len(differences))
    outside = math.floor((1 - confidence) / 2 * patterns + EVEN)
    if not outside:
        return None
    means = np.sort(some @ differences)
    return float(means[outside - 1]), float(means[-outside])


@lru_cache(maxsize=4)
def _subsets(pairs: int) -> tuple[Floats, int]:
    """(subsets, pairs): shares that make the mean of each but the empty one; the number of patterns."""
    keeps = kept(pairs) if pairs <= EXACT else kept(pairs)[1:]
    some = keeps[keeps.any(axis=1)].astype(float)
    return some / some.sum(axis=1, keepdims=True), len(kept(pairs))
