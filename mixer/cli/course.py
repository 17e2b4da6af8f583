"""`stickwright course`: runs of the bench's course measured again, and two tunings compared."""

import argparse
from collections.abc import Sequence

from mixer.cli.shared.arguments import add_path
from mixer.cli.shared.console import Console, Exit, as_data
from mixer.course.keep.again import KeptRun, kept_run
from mixer.course.keep.pairing import Paired, paired, question_of
from mixer.course.run.measures import MEASURES, RunMeasures
from mixer.course.study.compare import SHARES, Difference, Question, Study, compare
from mixer.course.study.words import unit_of, verdict
from mixer.errors import OptionError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The logs, and what is to be found out."""
    add_path(parser, "logs", nargs="+", help="logs that the bench's course wrote")
    parser.add_argument(
        "--ask",
        metavar="MEASURE",
        help=f"what the runs were driven for, said before looking: {', '.join(SHARES)}; "
        "default: what the logs say, else time_s",
    )
    parser.add_argument(
        "--worth", type=float, metavar="PERCENT", help="the difference worth finding, of the mean"
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Drive every log again, then compare."""
    runs: list[KeptRun] = []
    with console.progress(f"driving {len(args.logs)} runs again", len(args.logs)) as meter:
        for log in args.logs:
            runs.append(kept_run(log))
            meter.at(len(runs))
    result = paired(runs)
    question = _question(args, runs)
    comparison = compare(result.pairs, question) if result.pairs else None
    _print(runs, result, comparison, console)
    console.document({
        "task": runs[0].card.task,
        "driver": runs[0].card.driver,
        "runs": [_run_data(one) for one in runs],
        "tunings": result.tunings,
        "blind": result.blind,
        "unfinished": result.unfinished,
        "comparison": None if comparison is None else as_data(comparison),
        "verdict": None if comparison is None else verdict(comparison, runs[0].card.course().past_unit),
    })  # fmt: skip
    return Exit.FINE


def _question(args: argparse.Namespace, runs: Sequence[KeptRun]) -> Question:
    asked = question_of(runs)
    measure = args.ask or asked.measure
    if measure not in SHARES:
        raise OptionError(f"--ask {measure}: nothing that can be asked for", f"one of {', '.join(SHARES)}")
    share = asked.share if measure == asked.measure else SHARES[measure]
    if args.worth is not None:
        if not 0.1 <= args.worth <= 100:
            raise OptionError(f"--worth {args.worth:g} is no share", "give 0.1 to 100 per cent")
        share = args.worth / 100
    return Question(measure, share)


def _run_data(one: KeptRun) -> dict[str, object]:
    measures = None if one.measures is None else as_data(one.measures)
    return {"log": str(one.log), "tuning": one.card.tuning, "measures": measures}


def _print(runs: Sequence[KeptRun], result: Paired, comparison: Study | None, console: Console) -> None:
    card = runs[0].card
    console.heading(f"{card.robot}, {card.course().name}, driven by {card.driver or 'nobody named'}")
    sides = dict(zip(result.tunings, "AB", strict=False))
    console.say(", ".join(f"{side}: tuning {tuning}" for tuning, side in sides.items()))
    unit = card.course().past_unit
    labels = (f"{measure.label} {unit_of(key, unit).strip()}".strip() for key, measure in MEASURES.items())
    console.table(
        ["run", "", *(f"{label}>" for label in labels)],
        [[one.log.stem, sides[one.card.tuning], *_cells(one.measures)] for one in runs],
    )
    console.say()
    for side, count in zip("AB", result.unfinished, strict=True):
        if count:
            console.say(f"not driven to their end with {side}: {count}")
    if comparison is None:
        console.say("nothing to compare: give finished runs of two tunings")
        return
    if not result.blind:
        console.say("not of one blind comparison: paired in the order given, and the hands may have known")
    if result.left_over:
        console.say(f"without a partner: {result.left_over}")
    console.table(
        ["measure", "A>", "B>", "B minus A>", "95 % of it alone", "by chance>", "told"],
        [_line(one, unit) for one in comparison.differences],
    )
    console.say()
    console.say(verdict(comparison, unit))


def _cells(measures: RunMeasures | None) -> list[str]:
    if measures is None:
        return ["-"] * len(MEASURES)
    return [f"{measures.of(key):.{measure.digits}f}" for key, measure in MEASURES.items()]


def _line(one: Difference, unit: str) -> list[str]:
    measure = MEASURES[one.key]
    numbers = [f"{value:.{measure.digits}f}" for value in (one.mean_a, one.mean_b)]
    low_high = (
        "-" if one.low is None else f"{one.low:+.{measure.digits}f} to {one.high:+.{measure.digits}f}"
    )
    told = "a difference" if one.found else "none"
    by = f"{one.by:+.{measure.digits}f}{unit_of(one.key, unit)}"
    return [measure.label, *numbers, by, low_high, f"{one.chance:.1%}", told]
