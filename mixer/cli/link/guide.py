"""Steps with a person in the terminal: prompts, what is measured, typed answers, verdicts.

What counts, and when, is for the judge to say (`mixer.link.rehearse`); here it is asked and shown.
"""

import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager, suppress
from typing import Protocol

from mixer.cli.link.answers import Answers, answers_from
from mixer.cli.link.board import pulses_line
from mixer.cli.link.signals import stops_as_interrupt
from mixer.cli.shared.console import Console
from mixer.errors import OptionError, PortGoneError
from mixer.link.rehearse.guided import Guided
from mixer.link.rehearse.report import Prompt, StepVerdict
from mixer.link.session import HeldLow, Quiet, SessionEvent
from mixer.link.watch import BoardWatch

WAIT_S = 0.05
AGAIN = "again"
"""Typed at any prompt, with or without a step's name: go through it, or the last judged one, anew."""


class Heard(Protocol):
    """What a session is to whoever goes through steps."""

    def poll(self, wait_s: float) -> list[SessionEvent]:
        """What has happened, waiting at most so long."""
        ...


class Guide:
    """Goes from the first prompt to the last verdict."""

    def __init__(
        self,
        guided: Guided,
        channels: Sequence[str],
        console: Console,
        judged: Callable[[], None] = lambda: None,
        watch: BoardWatch | None = None,
    ) -> None:
        """`judged` is called whenever a step has been; what `watch` has to tell is told at once."""
        self._names = list(channels)
        self._console = console
        self._guided = guided
        self._judged = judged
        self._watch = watch
        self._shown = 0

    def go_through(self, session: Heard, answers: Answers, show: Callable[..., None]) -> None:
        """Until there is nothing more to ask.

        Raises:
            EOFError: an answer is needed, and none can come any more.
            PortGoneError: the port went away; what happened meanwhile cannot be known.
        """
        self._announce()
        while not self._guided.finished:
            for event in session.poll(WAIT_S):
                self._take(event)
            for words, _ in () if self._watch is None else self._watch.news():
                self._console.ask("board", words)
            for line in answers.take():
                self._answer(line)
            prompt = self._guided.prompt
            if answers.ended and prompt and prompt.answers:
                raise EOFError
            if prompt:
                show(self._state_line(), self._answer_line(prompt, answers.typed))

    def _take(self, event: SessionEvent) -> None:
        if isinstance(event, Quiet):
            self._console.ask("nothing has come from the board for a second", "is it powered?")
        if isinstance(event, HeldLow):
            self._console.ask("only zeros come from the board", "is its TX on ground, or not connected?")
        self._verdicts(self._guided.hear(event))
        if self._guided.broken_off:
            raise PortGoneError(self._guided.broken_off, "plug the board in, and begin again")

    def _answer(self, line: str) -> None:
        prompt = self._guided.prompt
        if prompt is None:
            return
        try:
            first, _, step = line.strip().lower().partition(" ")
            if first == AGAIN:
                self._guided.repeat(step)
                self._announce()
            else:
                self._verdicts(self._guided.answer(prompt.meant(line), self._shown))
        except OptionError as error:
            self._console.ask(error.said, error.remedy)

    def _verdicts(self, verdicts: Iterable[StepVerdict]) -> None:
        verdicts = tuple(verdicts)
        for verdict in verdicts:
            self._console.ask(f"  {verdict.outcome.upper()}  {verdict.step}", verdict.said)
        if verdicts:
            self._judged()
        self._announce()

    def _announce(self) -> None:
        prompt = self._guided.prompt
        if prompt is None or self._guided.asked == self._shown:
            return
        self._shown = self._guided.asked
        asked = f"  [{_choices(prompt)}]" if prompt.answers else ""
        self._console.ask(prompt.step, prompt.text + asked)

    def _state_line(self) -> str:
        if not self._names:
            return "no board is connected"
        return f"firmware {self._guided.guard:9}  " + pulses_line(self._names, self._guided.pulses_us)

    def _answer_line(self, prompt: Prompt, typed: str) -> str:
        seconds = self._guided.waited_s
        if not prompt.answers:
            return f"watching {seconds:4.1f} s: only look"
        return f"{_choices(prompt)} ({seconds:.0f} s) > {typed}_"


def require_answers() -> None:
    """Raise OptionError where nobody can answer."""
    if sys.stdin is None:
        raise OptionError("nobody can answer: standard input is closed", "run it in a terminal")


def led_through(guide: Guide, link: AbstractContextManager[Heard], console: Console) -> bool:
    """Lead a person through all steps by what is typed; whether it came to its end, not broken off.

    Raises what `Guide.go_through` and the opening of the link raise, but for the end of input.
    """
    by_key = console.is_live and sys.stdin.isatty()
    with suppress(KeyboardInterrupt, EOFError), stops_as_interrupt(), link as session:
        with answers_from(sys.stdin, by_key=by_key) as answers, console.live() as show:
            guide.go_through(session, answers, show)
        return True
    return False


def _choices(prompt: Prompt) -> str:
    return prompt.offered().replace("done", "done, or just Enter")
