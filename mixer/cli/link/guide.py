"""The guided receiver test in the terminal: prompts, what is measured, typed answers, verdicts.

An answer counts only for the prompt on screen: one that the prompt does not take is refused, and so is one
that came too soon after the prompt changed to be meant for it. Nothing typed ahead can move the test on.
Time is the board's, as in the rehearsal itself.
"""

from collections.abc import Callable, Iterable

from mixer.cli.console import Console
from mixer.cli.link.answers import Answers
from mixer.cli.link.board import BoardSession, pulses_line
from mixer.cli.link.holes import Holes
from mixer.core.plan import Plan
from mixer.errors import OptionError, PortGoneError
from mixer.link.device_time import DeviceTime
from mixer.link.frames import Frame
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import Prompt, RehearsalResult, StepVerdict
from mixer.link.session import Quiet, SessionEvent, Unplugged

TOO_SOON_US = 250_000
"""Nobody reads a new prompt and answers it within this time."""
WAIT_S = 0.05
BY_NAME = "ready"
"""The step whose yes is to be typed in full."""


class Guide:
    """Runs one rehearsal from the first prompt to the last verdict."""

    def __init__(self, plan: Plan, console: Console) -> None:
        self._names = [channel.name for channel in plan.channels]
        self._console = console
        self._time = DeviceTime()
        self._rehearsal = Rehearsal(plan)
        self._holes = Holes(plan)
        self._shown: Prompt | None = None
        self._shown_us = 0

    def result(self) -> RehearsalResult:
        """What has been found so far; complete only when every step was gone through."""
        return self._holes.result(self._rehearsal.result())

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
        if isinstance(event, Unplugged):
            raise PortGoneError(event.said, "plug the board in, and begin the receiver test again")
        if isinstance(event, Quiet):
            self._console.ask("nothing has come from the board for a second", "is it powered?")
        if self._rehearsal.prompt:
            self._holes.take(event, self._rehearsal.prompt.step)
        if isinstance(event, Frame):
            self._time.at(event)
            self._verdicts(self._rehearsal.feed(event))

    def _answer(self, line: str) -> None:
        prompt = self._rehearsal.prompt
        if prompt is None:
            return
        word = meant(line, prompt)
        if self._time.now_us - self._shown_us < TOO_SOON_US:
            self._console.ask(
                f"too soon: {line!r}", "it came before the question could be read; answer now"
            )
            return
        try:
            self._verdicts(self._rehearsal.answer(word))
        except OptionError as error:
            self._console.ask(error.said, error.remedy)

    def _verdicts(self, verdicts: Iterable[StepVerdict]) -> None:
        for verdict in map(self._holes.judged, verdicts):
            self._console.ask(f"  {verdict.outcome.upper()}  {verdict.step}", verdict.said)
        self._announce()

    def _announce(self) -> None:
        prompt = self._rehearsal.prompt
        if prompt is None or prompt == self._shown:
            return
        self._shown, self._shown_us = prompt, self._time.now_us
        asked = f"  [{_choices(prompt)}]" if prompt.answers else ""
        self._console.ask(prompt.step, prompt.text + asked)

    def _state_line(self) -> str:
        return f"firmware {self._rehearsal.guard:9}  " + pulses_line(self._names, self._rehearsal.pulses_us)

    def _answer_line(self, prompt: Prompt, typed: str) -> str:
        seconds = (self._time.now_us - self._shown_us) / 1e6
        if not prompt.answers:
            return f"watching {seconds:4.1f} s: only look"
        return f"{_choices(prompt)} ({seconds:.0f} s) > {typed}_"


def meant(line: str, prompt: Prompt) -> str:
    """The answer a typed line stands for: its first letters do, and nothing at all means done.

    Only the yes that everything is safe is to be typed in full.
    """
    word = line.strip().lower()
    if not word:
        return "done" if "done" in prompt.answers else ""
    fits = [answer for answer in prompt.answers if answer.startswith(word)]
    return fits[0] if len(fits) == 1 and prompt.step != BY_NAME else word


def _choices(prompt: Prompt) -> str:
    named = ("done, or just Enter" if answer == "done" else answer for answer in prompt.answers)
    return " / ".join(named)
