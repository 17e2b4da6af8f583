"""A text that can be changed, and every change undone and done again, without end.

A step is kept as what was cut out and what was put in its place, so that ten thousand steps on a ten
kilobyte text take no more than a megabyte.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Splice:
    """One step: at `at`, `was` gave way to `now`."""

    at: int
    was: str
    now: str
    label: str

    def forward(self, text: str) -> str:
        """The text after the step."""
        return text[: self.at] + self.now + text[self.at + len(self.was) :]

    def back(self, text: str) -> str:
        """The text before the step."""
        return text[: self.at] + self.was + text[self.at + len(self.now) :]


def splice_between(before: str, after: str, label: str) -> Splice:
    """The shortest single splice that makes one text of the other."""
    most = min(len(before), len(after))
    head = next((at for at in range(most) if before[at] != after[at]), most)
    most -= head
    tail = next((at for at in range(most) if before[-1 - at] != after[-1 - at]), most)
    return Splice(head, before[head : len(before) - tail], after[head : len(after) - tail], label)


class History:
    """One text and its steps."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._done: list[Splice] = []
        self._undone: list[Splice] = []
        self._open = False

    @property
    def undo_depth(self) -> int:
        """How many steps can be undone."""
        return len(self._done)

    @property
    def redo_depth(self) -> int:
        """How many undone steps can be done again."""
        return len(self._undone)

    def change(self, text: str, label: str, *, joins: bool = False) -> None:
        """A new text. With `joins`, one step together with the one before if that has the same label.

        So a drag of a hundred values is one step. A text that does not differ is no step.
        """
        if text == self.text:
            return
        before = self.text
        if joins and self._open and self._done and self._done[-1].label == label:
            before = self._done.pop().back(self.text)
        if text != before:
            self._done.append(splice_between(before, text, label))
        self.text, self._undone, self._open = text, [], True

    def undo(self) -> str:
        """Take the last step back; its label, empty when there is none."""
        if not self._done:
            return ""
        step = self._done.pop()
        self._undone.append(step)
        self.text, self._open = step.back(self.text), False
        return step.label

    def redo(self) -> str:
        """Do the last undone step again; its label, empty when there is none."""
        if not self._undone:
            return ""
        step = self._undone.pop()
        self._done.append(step)
        self.text, self._open = step.forward(self.text), False
        return step.label
