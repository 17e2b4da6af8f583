"""A comparison in one sentence."""

from collections.abc import Sequence

from mixer.course.run.measures import MEASURES
from mixer.course.study.compare import POWER, Difference, Study

HAS = "with "


def verdict(comparison: Study, unit: str = "m") -> str:
    """What can be told, and nothing that cannot. `unit` is the task's own of an overshoot."""
    found = [one for one in comparison.differences if one.found]
    runs = f"in {2 * comparison.pairs} runs"
    if not found:
        return f"no difference to be seen {runs}{_more(comparison)}"
    first, others = found[0], [word_of(one) for one in found[1:]]
    size = f"{abs(first.by):.{MEASURES[first.key].digits}f}{unit_of(first.key, unit)}"
    word = word_of(first)
    said = f"B has {size} {word.removeprefix(HAS)}" if word.startswith(HAS) else f"B is {size} {word}"
    said += f" ({reach_of(first)})"
    said += "".join(f", {one}" for one in others if not one.startswith(HAS))
    having = [one.removeprefix(HAS) for one in others if one.startswith(HAS)]
    said += f", {HAS}{_and(having)}" if having else ""
    if not comparison.asked.found:
        said += f"; no difference in {MEASURES[comparison.asked.key].label} to be seen"
    return f"{said}, {runs}" if comparison.asked.found else f"{said} {runs}"


def word_of(difference: Difference) -> str:
    """What B is, without a number."""
    measure = MEASURES[difference.key]
    return measure.less if difference.by < 0 else measure.more


def reach_of(difference: Difference) -> str:
    """The interval of a difference's size, the way round that the sentence has it: ``0.1 to 0.7``."""
    if difference.low is None or difference.high is None:
        return "too few pairs for an interval"
    digits, sign = MEASURES[difference.key].digits, -1 if difference.by < 0 else 1
    low, high = sorted((sign * difference.low, sign * difference.high))
    return f"{low:.{digits}f} to {high:.{digits}f}"


def unit_of(key: str, unit: str = "m") -> str:
    """A measure's unit as it stands behind a number; `unit` is the task's own of an overshoot."""
    said = unit if key == "overshoot" else MEASURES[key].unit
    return said if said in ("", "/s", "°") else f" {said}"


def _more(comparison: Study) -> str:
    needed, question = comparison.needed, comparison.question
    worth = f"one of {question.share:.0%} in {MEASURES[question.measure].label}"
    if needed is None or needed > comparison.pairs:
        return f"; {worth} takes more" + (f", about {2 * needed} in all" if needed else "")
    return f"; {worth} would have been found {round(POWER * 10)} times in 10"


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
