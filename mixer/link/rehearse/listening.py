"""The guided receiver test on the bench: frames of the link in, prompts and verdicts out."""

from pathlib import Path

from mixer.core.plan import Plan
from mixer.files import check_place, write_file
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import FORMAT, Prompt, StepVerdict
from mixer.link.source import LinkSource


class Rehearsing:
    """One rehearsal over an open link. `look` takes in what has come since the last look."""

    def __init__(self, link: LinkSource, plan: Plan) -> None:
        self._link = link
        self._rehearsal = Rehearsal(plan)
        link.tap(True)

    @property
    def prompt(self) -> Prompt | None:
        """What to show now; None when it is over."""
        return self._rehearsal.prompt

    @property
    def verdicts(self) -> tuple[StepVerdict, ...]:
        """The steps done so far."""
        return self._rehearsal.verdicts

    @property
    def passed(self) -> bool:
        """Whether it has been gone through and every step passed."""
        return self._rehearsal.result().passed

    @property
    def guard(self) -> str:
        """The firmware's guard, in a word."""
        return self._rehearsal.guard

    def look(self) -> None:
        """Take in the frames that have come."""
        for frame in self._link.tapped():
            if not self._rehearsal.finished:
                self._rehearsal.feed(frame)

    def answer(self, letter: str) -> None:
        """Answer by the first letter. Raises OptionError for an answer the prompt does not take."""
        answers = self.prompt.answers if self.prompt is not None else ()
        meant = next((answer for answer in answers if answer.startswith(letter)), letter)
        self._rehearsal.answer(meant)

    def save(self, path: Path) -> None:
        """Write the result as JSON, for the sheet. Raises WriteError where it cannot be written."""
        check_place(path, marks=[FORMAT])
        write_file(path, self._rehearsal.result().to_json())

    def end(self) -> None:
        """Listen no more."""
        self._link.tap(False)
