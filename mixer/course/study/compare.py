"""Runs of two tunings compared: every measure's difference, its interval, and what can be said of it.

One measure is asked for beforehand and may be found at `ASKED` of the `LEVEL`; all others share the rest,
or the whole level once the asked one is found (fallback procedure: B. L. Wiens, Pharmaceutical Statistics 2
(2003) 211-215). Over all measures the chance of calling any equal thing different is at most `LEVEL`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from mixer.course.run.measures import MEASURES, RunMeasures
from mixer.course.study.signs import by_chance, interval
from mixer.course.study.size import pairs_needed

LEVEL, ASKED, POWER = 0.05, 0.04, 0.8
SHARES = {"time_s": 0.05, "off_rms_m": 0.2, "corrections_per_s": 0.2, "charge_mah": 0.1}
"""What can be asked for, and the difference worth finding as a share of the mean (our choice)."""

Pair = tuple[RunMeasures, RunMeasures]
"""A run with A and one with B."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a comparison is to find out, fixed before the first run."""

    measure: str = "time_s"
    """A key of `SHARES`."""
    share: float = SHARES["time_s"]
    """The difference worth finding, as a share of the mean of all runs."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One measure over all pairs."""

    key: str
    mean_a: float
    mean_b: float
    by: float
    """Mean of B minus A."""
    low: float | None
    high: float | None
    """95 % interval of that for this measure alone; None with too few pairs."""
    chance: float
    """How often pure chance gives a difference as large; of others than the asked one, in any of them."""
    found: bool
    """Whether it can be told from chance, all measures taken together."""


@dataclass(frozen=True, slots=True)
class Study:
    """Two tunings, by pairs of runs."""

    question: Question
    pairs: int
    differences: tuple[Difference, ...]
    """The asked measure first."""
    needed: int | None
    """Pairs in all that find the asked difference with `POWER`; None while it is too early to say."""

    @property
    def asked(self) -> Difference:
        """The one that was asked for."""
        return self.differences[0]


def compare(pairs: Sequence[Pair], question: Question) -> Study:
    """All measures of one or more pairs."""
    keys = [question.measure, *(key for key in MEASURES if key != question.measure)]
    a, b = (np.array([[run.of(key) for key in keys] for run in side]) for side in zip(*pairs, strict=True))
    by = b - a
    chances = np.concatenate([by_chance(by[:, :1]), by_chance(by[:, 1:])])
    first = bool(chances[0] <= ASKED)
    levels = [ASKED, *[LEVEL if first else LEVEL - ASKED] * (len(keys) - 1)]
    found = []
    for place, key in enumerate(keys):
        low, high = interval(by[:, place], 1 - LEVEL) or (None, None)
        means = float(a[:, place].mean()), float(b[:, place].mean())
        told = bool(chances[place] <= levels[place] + 1e-12)
        found.append(
            Difference(key, *means, float(by[:, place].mean()), low, high, float(chances[place]), told)
        )
    return Study(question, len(pairs), tuple(found), needed_for(pairs, question))


def needed_for(pairs: Sequence[Pair], question: Question) -> int | None:
    """Pairs in all that the question takes, by the sizes of the differences so far."""
    values = [(one.of(question.measure), other.of(question.measure)) for one, other in pairs]
    mean = sum(map(sum, values)) / max(2 * len(values), 1)
    differences = [other - one for one, other in values]
    return pairs_needed(differences, question.share * abs(mean), ASKED, POWER)
