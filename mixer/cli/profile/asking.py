"""Questions about a robot, put to a person (or to lines on standard input), or answered by a file."""

import io
import sys
from pathlib import Path
from typing import Any

from mixer.cli.shared.console import Console
from mixer.errors import OptionError, Problem, ProfileError, offer
from mixer.profile.begin.questions import QUESTIONS, Answers, Question, answered
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.reading import read_tables, read_text

MOST_TRIES = 20
"""Refused answers to one question, after which nobody is taken to be there who reads the remedies."""
HUGE = 10**18
LONGEST = 1000
"""Letters of a line that are read as one answer."""


def ask_all(console: Console) -> Answers:
    """Answers typed one after the other; one that will not do is asked again, with what would.

    Raises OptionError where the input ends before the last answer, or nothing but refused ones come.
    """
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="backslashreplace")
    console.ask("An empty line takes the answer in brackets; Ctrl-C leaves, and nothing is written", "")
    answers: dict[str, Any] = {}
    for question in QUESTIONS:
        if question.applies(answers):
            answers[question.name] = _asked(question, answers, console)
    return answers


def read_answers(path: Path) -> Answers:
    """Answers in a TOML file, by the questions' names; what is not there takes its default.

    Raises ProfileError with every answer that will not do, is none, or is not asked of this robot.
    """
    source = read_tables(read_text(path), str(path))
    answers: dict[str, Any] = {}
    problems: list[Problem] = []
    given = dict(source.tables)
    for question in QUESTIONS:
        if not question.applies(answers):
            continue
        text = _as_text(given.pop(question.name, ""))
        try:
            answers[question.name] = answered(question, text, answers)
        except OptionError as error:
            answers[question.name] = answered(question, "", answers)
            problems.append(source.problem(Complaint((question.name,), error.said, error.remedy), None))
    problems += [source.problem(_left_over(name), None) for name in given]
    if problems:
        raise ProfileError(problems)
    return answers


def _asked(question: Question, before: Answers, console: Console) -> Any:  # noqa: ANN401 - the question's own
    console.ask(question.name, f"{question.asks} {question.because}")
    for _ in range(MOST_TRIES):
        console.prompt(f"  [{question.default(before)}] ")
        line = sys.stdin.readline(LONGEST) if sys.stdin is not None else ""
        if not line:
            raise OptionError(
                f"the input ended at {question.name}: nothing is written",
                "answer to the end (an empty line takes the default), or give a file with --answers",
            )
        try:
            return answered(question, line, before)
        except OptionError as error:
            console.error(error)
    raise OptionError(
        f"{MOST_TRIES} answers to {question.name} would not do: nothing is written",
        f"{question.asks} {question.because}",
    )


def _as_text(value: object) -> str:
    """A value of TOML as it would be typed."""
    if isinstance(value, list):
        return " ".join(map(_as_text, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    huge = isinstance(value, int) and abs(value) > HUGE  # which Python may refuse to write out
    return "a huge number" if huge else str(value)


def _left_over(name: str) -> Complaint:
    known = [question.name for question in QUESTIONS]
    if name in known:
        return Complaint(
            (name,), "is not asked of this robot", "take it out, or look at the answers above it"
        )
    return Complaint((name,), f"there is no question {name!r}", offer(name, known, "questions"))
