"""Whole blind comparisons, simulated: how often they find a difference that is there, and one that is not.

Driving a thousand studies would take a day, so the runs of each are drawn from a stock of runs that the
simulated driver has driven (a bootstrap); dealing, stopping and judging are the bench's own.
"""

import random
from functools import lru_cache

import pytest

from mixer.course.desk.blind import Blind
from mixer.course.run.measures import RunMeasures
from mixer.course.study.compare import LEVEL, POWER, SHARES, Question, Study
from mixer.course.study.size import MOST
from mixer.course.study.words import verdict
from tests.course.driven import drive, task_for, text_of

TANK = text_of("tank_pair")
WORSE = TANK.replace("expo = 0.3", "expo = 0.3\nrate = 0.945")
STOCK, STUDIES = 30, 1000


@lru_cache(maxsize=2)
def stock(text: str) -> tuple[RunMeasures, ...]:
    """Runs along the line by hands that know the robot as it was."""
    laps = [drive(text, task_for("tank_pair", "line"), seed, knows=TANK) for seed in range(STOCK)]
    assert all(lap.finished for lap in laps)
    return tuple(lap.measures() for lap in laps)


def studied(a: tuple[RunMeasures, ...], b: tuple[RunMeasures, ...], seed: int) -> Study:
    """One comparison, driven until it says that it is enough."""
    dice, stocks = random.Random(seed), {"A": a, "B": b}
    blind = Blind("s", seed, Question("time_s", SHARES["time_s"]), ("a", "b"))
    while len(blind.runs) % 2 or not (blind.enough or blind.pair >= MOST):
        blind.runs.append(dice.choice(stocks[blind.dealt]))
    result = blind.result()
    assert result is not None
    return result


@pytest.mark.long
@pytest.mark.timeout(900)
def test_equal_tunings_are_called_different_no_more_often_than_stated() -> None:
    """Of 1000 studies of one tuning against itself at most 5 % find anything in any of nine measures.

    Beyond it only what chance leaves with 99.9 % (three standard errors).
    """
    runs = stock(TANK)
    found = sum(any(one.found for one in studied(runs, runs, seed).differences) for seed in range(STUDIES))
    assert found / STUDIES <= LEVEL + 3 * (LEVEL * (1 - LEVEL) / STUDIES) ** 0.5


@pytest.mark.long
@pytest.mark.timeout(900)
def test_a_worse_tuning_is_found_with_the_power_stated() -> None:
    """A rate that costs the driver 5 % of time or a little more is found 8 times in 10, as slower."""
    a, b = stock(TANK), stock(WORSE)
    means = [sum(run.time_s for run in runs) / STOCK for runs in (a, b)]
    assert 1.05 <= means[1] / means[0] <= 1.09
    results = [studied(a, b, seed) for seed in range(STUDIES)]
    found = [result for result in results if result.asked.found]
    assert len(found) / STUDIES >= POWER - 3 * (POWER * (1 - POWER) / STUDIES) ** 0.5
    assert sum(result.asked.by < 0 for result in found) / STUDIES < 0.005
    assert all("slower (" in verdict(result) for result in found if result.asked.by > 0)


def test_a_few_studies_tell_no_more_than_they_can() -> None:
    """Of invented runs: a quarter slower is told with its interval, equal ones are not told apart."""
    dice = random.Random(1)

    def runs(seconds: float) -> tuple[RunMeasures, ...]:
        return tuple(
            RunMeasures(dice.gauss(seconds, 0.2), 0.02, 0.05, 0, 0.0, dice.gauss(3, 0.5), 0.0, 0.0, 1.0)
            for _ in range(12)
        )

    slower = studied(runs(10.0), runs(12.5), 3)
    assert verdict(slower).startswith("B is 2.")
    assert "s slower (2." in verdict(slower)
    equal = [studied(runs(10.0), runs(10.0), seed) for seed in range(10)]
    assert sum(any(one.found for one in result.differences) for result in equal) <= 1
    assert verdict(equal[0]).startswith("no difference to be seen in ")
