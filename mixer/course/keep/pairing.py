"""Runs put into pairs for a comparison, or refused: one task, one robot, one driver, two tunings."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from mixer.course.keep.again import KeptRun
from mixer.course.study.compare import SHARES, Pair, Question
from mixer.errors import LogError, Problem


@dataclass(frozen=True, slots=True)
class Paired:
    """What can be compared of some runs."""

    tunings: tuple[str, ...]
    """Fingerprints of A and B; of one where there is no other."""
    pairs: tuple[Pair, ...]
    blind: bool
    """Whether all of them were dealt blindly by one comparison."""
    unfinished: tuple[int, int]
    """Runs with A and with B that did not come to their end."""
    left_over: int
    """Finished runs without a partner."""


def paired(runs: Sequence[KeptRun]) -> Paired:
    """By the comparison they were driven for, else the first run with A with the first with B, and so on.

    Raises LogError for runs that cannot be compared.
    """
    _refuse_mixed(runs)
    _refuse_twice(runs)
    tunings = _tunings(runs)
    sides = [[run for run in runs if run.card.tuning == tuning] for tuning in tunings]
    if len(sides) < 2:
        return Paired(tunings, (), blind=False, unfinished=(_unfinished(runs), 0), left_over=0)
    blind = len({run.card.study for run in runs}) == 1 and bool(runs[0].card.study)
    pairs = _dealt(sides) if blind else _in_order(sides)
    finished = sum(run.measures is not None for run in runs)
    unfinished = _unfinished(sides[0]), _unfinished(sides[1])
    return Paired(tunings, tuple(pairs), blind, unfinished, finished - 2 * len(pairs))


def question_of(runs: Sequence[KeptRun]) -> Question:
    """What they were driven for; a run of its own asks for the time."""
    asked = {(run.card.measure, run.card.share) for run in runs}
    measure, share = asked.pop()
    if asked or measure not in SHARES or not share:
        return Question()
    return Question(measure, share)


def _unfinished(runs: Sequence[KeptRun]) -> int:
    return sum(run.measures is None for run in runs)


def _refuse_mixed(runs: Sequence[KeptRun]) -> None:
    course = "task", "tasks", lambda run: run.card.course()
    robot = "robot", "robots", lambda run: (run.card.robot, run.card.loadout, run.body)
    driver = "driver", "drivers", lambda run: run.card.driver
    kinds: tuple[tuple[str, str, Callable[[KeptRun], Any]], ...] = (course, robot, driver)
    first = runs[0]
    for key, many, what in kinds:
        other = next((run for run in runs if what(run) != what(first)), None)
        if other is not None:
            one, two = getattr(first.card, key), getattr(other.card, key)
            names = f"{one} in {first.log.name}, {two} in {other.log.name}"
            said = f"runs of different {many} cannot be compared: {names}"
            if one == two:
                said += " (same name, but other numbers)"
            raise LogError([Problem(str(other.log), key, said, f"give runs of one {key}")])


def _refuse_twice(runs: Sequence[KeptRun]) -> None:
    """No two runs of hands measure the same to the last bit: such logs are one run, given twice."""
    seen: dict[Any, KeptRun] = {}
    for run in runs:
        first = seen.setdefault((run.card.tuning, run.measures), run)
        if first is not run and run.measures is not None:
            said = f"is the same run as {first.log}"
            raise LogError([Problem(str(run.log), "", said, "give each run once")])


def _tunings(runs: Sequence[KeptRun]) -> tuple[str, ...]:
    """A's first: as it was dealt, else as the runs come."""
    dealt = sorted(runs, key=lambda run: run.card.side or "A")
    found = tuple(dict.fromkeys(run.card.tuning for run in dealt))
    if len(found) > 2:
        said = f"{len(found)} tunings are in these logs: {', '.join(found)}"
        raise LogError([Problem(str(runs[0].log), "tuning", said, "give the runs of two")])
    return found


def _dealt(sides: Sequence[Sequence[KeptRun]]) -> list[Pair]:
    """The last finished run of each side in each pair that was dealt."""
    of = [
        {pair: run.measures for run in side if run.measures is not None for pair in [run.card.pair]}
        for side in sides
    ]
    return [(of[0][pair], of[1][pair]) for pair in sorted(of[0].keys() & of[1].keys())]


def _in_order(sides: Sequence[Sequence[KeptRun]]) -> list[Pair]:
    done = [[run.measures for run in side if run.measures is not None] for side in sides]
    return list(zip(*done, strict=False))
