"""The guided receiver test on the bench: what the link says in, prompts and verdicts out."""

from pathlib import Path

from mixer.core.plan import Plan
from mixer.files import check_place, write_file
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import FORMAT, Prompt, StepVerdict
from mixer.link.source import LinkSource


class Rehearsing:
    """One rehearsal over an open link. `look` takes in what has come since the last look.

    The question of wheels and weapon has been answered with yes before this is made.
    """

    def __init__(self, link: LinkSource, plan: Plan) -> None:
        self._link = link
        self._rehearsal = Rehearsal(plan, confirmed=True)
        self._shown = 0
        self._kept = 1
        """Verdicts that are in a file; the first is the yes that began it."""
        link.tap(True)

    @property
    def prompt(self) -> Prompt | None:
        """What is asked now; None when it is over."""
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
    def broken_off(self) -> str:
        """Why it ended before its last step, where the link is to blame; empty otherwise."""
        return self._rehearsal.broken_off

    @property
    def waited_s(self) -> float:
        """How long the present prompt has been up."""
        return self._rehearsal.waited_s

    @property
    def guard(self) -> str:
        """The firmware's guard, in a word."""
        return self._rehearsal.guard

    @property
    def unsaved(self) -> bool:
        """Whether leaving now would lose verdicts: ask first."""
        return len(self.verdicts) != self._kept

    def shown(self) -> Prompt | None:
        """The prompt, for whoever puts it on the screen now: answers count for this one."""
        self._shown = self._rehearsal.asked
        return self._rehearsal.prompt

    def look(self) -> None:
        """Take in all that has come. Raises WrongDeviceError for frames without this robot's channels."""
        for event in self._link.tapped():
            self._rehearsal.hear(event)

    def answer(self, letter: str) -> None:
        """Answer the prompt shown last by a first letter. Raises OptionError where that is not taken."""
        prompt = self.prompt
        self._rehearsal.answer(letter if prompt is None else prompt.meant(letter), self._shown)

    def repeat(self, step: str = "") -> None:
        """Go through a judged step anew, by default the last one. Raises OptionError without one."""
        self._rehearsal.repeat(step)

    def save(self, path: Path) -> None:
        """Write the result as JSON, for the sheet. Raises WriteError where it cannot be written."""
        check_place(path, marks=[FORMAT])
        write_file(path, self._rehearsal.result().to_json())
        self._kept = len(self.verdicts)

    def end(self) -> None:
        """Listen no more."""
        self._link.tap(False)
