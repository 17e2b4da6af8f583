"""The guided receiver test in the terminal: prompts, what is measured, typed answers, verdicts.

What counts, and when, is for the judge to say (`mixer.link.rehearse`); here it is asked and shown.
"""

from collections.abc import Callable, Iterable

from mixer.cli.link.answers import Answers
from mixer.cli.link.board import BoardSession, pulses_line
from mixer.cli.shared.console import Console
from mixer.core.plan import Plan
from mixer.errors import OptionError, PortGoneError
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import Prompt, RehearsalResult, StepVerdict
from mixer.link.session import HeldLow, Quiet, SessionEvent

WAIT_S = 0.05
AGAIN = "again"
"""Typed at any prompt: go through the last judged step anew."""


class Guide:
    """Runs one rehearsal from the first prompt to the last verdict."""

    def __init__(self, plan: Plan, console: Console) -> None:
        self._names = [channel.name for channel in plan.channels]
        self._console = console
        self._rehearsal = Rehearsal(plan)
        self._shown = 0

    def result(self) -> RehearsalResult:
        """What has been found so far; complete only when every step was gone through."""
        return self._rehearsal.result()

    def go_through(self, session: BoardSession, answers: Answers, show: Callable[..., None]) -> None:
        """Until there is nothing more to ask.

        Raises:
            EOFError: an answer is needed, and none can come any more.
            PortGoneError: the port went away; what happened meanwhile cannot be known.
        """
        self._announce()
        while not self._rehearsal.finished:
            for event in session.poll(WAIT_S):
                self._take(event)
            for line in answers.take():
                self._answer(line)
            prompt = self._rehearsal.prompt
            if answers.ended and prompt and prompt.answers:
                raise EOFError
            if prompt:
                show(self._state_line(), self._answer_line(prompt, answers.typed))

    def _take(self, event: SessionEvent) -> None:
        if isinstance(event, Quiet):
            self._console.ask("nothing has come from the board for a second", "is it powered?")
        if isinstance(event, HeldLow):
            self._console.ask("only zeros come from the board", "is its TX on ground, or not connected?")
        self._verdicts(self._rehearsal.hear(event))
        if self._rehearsal.broken_off:
            raise PortGoneError(
                self._rehearsal.broken_off, "plug the board in, and begin the receiver test again"
            )

    def _answer(self, line: str) -> None:
        prompt = self._rehearsal.prompt
        if prompt is None:
            return
        try:
            if line.strip().lower() == AGAIN:
                self._rehearsal.repeat()
                self._announce()
            else:
                self._verdicts(self._rehearsal.answer(prompt.meant(line), self._shown))
        except OptionError as error:
            self._console.ask(error.said, error.remedy)

    def _verdicts(self, verdicts: Iterable[StepVerdict]) -> None:
        for verdict in verdicts:
            self._console.ask(f"  {verdict.outcome.upper()}  {verdict.step}", verdict.said)
        self._announce()

    def _announce(self) -> None:
        prompt = self._rehearsal.prompt
        if prompt is None or self._rehearsal.asked == self._shown:
            return
        self._shown = self._rehearsal.asked
        asked = f"  [{_choices(prompt)}]" if prompt.answers else ""
        self._console.ask(prompt.step, prompt.text + asked)

    def _state_line(self) -> str:
        return f"firmware {self._rehearsal.guard:9}  " + pulses_line(self._names, self._rehearsal.pulses_us)

    def _answer_line(self, prompt: Prompt, typed: str) -> str:
        seconds = self._rehearsal.waited_s
        if not prompt.answers:
            return f"watching {seconds:4.1f} s: only look"
        return f"{_choices(prompt)} ({seconds:.0f} s) > {typed}_"


def _choices(prompt: Prompt) -> str:
    named = ("done, or just Enter" if answer == "done" else answer for answer in prompt.answers)
    return " / ".join(named)
