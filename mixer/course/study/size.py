"""How many pairs of runs a question takes.

Number of pairs: W. C. Guenther, "Sample size formulas for normal theory t tests", The American Statistician
35 (1981) 243-244:

    n = (z_a + z_b)² (σ/δ)² + z_a² / 2

with δ the difference worth finding, σ how much differences scatter, z_a and z_b the normal quantiles of
1 - level/2 and of the power. σ is taken from the *sizes* of the differences so far, never from their signs
(blinded re-estimation: A. L. Gould and W. J. Shih, Commun. Statist. Theory Meth. 21 (1992) 2833-2853): the
test turns signs round, so that looking at sizes in between leaves its level what it is. Their root mean
square counts a difference there is as scatter too: some pairs more than by hindsight, which makes up for
stopping at the first number that suffices (simulated studies hold the power). Who feels a large difference
can end earlier, and as fairly: nothing has been shown.
"""

import math
from collections.abc import Sequence
from statistics import NormalDist

LEAST, MOST = 6, 40
"""Pairs: with fewer not even equal signs throughout say anything at 5 %; nobody drives more."""
FIRST = 4
"""Pairs before which nothing is foretold."""


def pairs_for(scatter: float, effect: float, level: float, power: float) -> int:
    """Guenther's number, rounded up; `scatter` and `effect` in one unit, `effect` > 0."""
    z_a, z_b = NormalDist().inv_cdf(1 - level / 2), NormalDist().inv_cdf(power)
    return math.ceil((z_a + z_b) ** 2 * (scatter / effect) ** 2 + z_a**2 / 2)


def pairs_needed(differences: Sequence[float], effect: float, level: float, power: float) -> int | None:
    """Pairs in all, by those driven so far; None while it is too early to say."""
    if len(differences) < FIRST or effect <= 0:
        return None
    scatter = math.sqrt(math.fsum(value * value for value in differences) / len(differences))
    return min(max(pairs_for(scatter, effect, level, power), LEAST), MOST)
