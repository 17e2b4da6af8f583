"""The guided receiver test: what to do now, and how each step went."""

from typing import ClassVar

from mixer.link.rehearse.report import StepVerdict
from tui.bench.commands import Command
from tui.dialogs.rehearsal import end_rehearsal, repeat_rehearsal_step, save_rehearsal
from tui.drawing.rows import Row, fit, plain, row_of, wrapped
from tui.panels.base import Panel


def _nothing(_: object) -> None:
    """Letters that answer are taken before commands are looked for; here they do nothing."""


def _save(panel: "RehearsePanel") -> None:
    save_rehearsal(panel.host)


def _repeat(panel: "RehearsePanel") -> None:
    repeat_rehearsal_step(panel.host)


def _end(panel: "RehearsePanel") -> None:
    end_rehearsal(panel.host)


MARKS = {"passed": ("✓", "ok!"), "failed": ("✕", "bad!")}


class RehearsePanel(Panel):
    """Prompt on top, verdicts below."""

    title: ClassVar[str] = "rehearse"
    letter: ClassVar[str] = "l"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
The one check no simulation can give: what this receiver does when its transmitter goes off. It asks you to
move each stick, to arm, and to switch the transmitter off and on, measures what really comes, and says what
the firmware makes of it.

Wheels off the ground and weapon locked, all the time. Answer with the first letter of what is offered; some
steps only watch; s skips one. ⌫ goes through the last judged step once more. enter saves the result for the
event's sheet; esc breaks it off, and asks first where verdicts would be lost."""
    commands: ClassVar[tuple[Command, ...]] = (
        Command(tuple("ynd"), "answer", "answer", "the first letter of an answer", _nothing, 1, "letter"),
        Command(("enter",), "save_result", "save", "save the result as JSON", _save, 1),
        Command(
            ("backspace",), "repeat", "again", "go through the last judged step once more", _repeat, 1, "⌫"
        ),
        Command(("escape",), "close", "break off", "end the rehearsal", _end, 1),
    )
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("✓  ✕", "a step that passed, that failed"),
        ("▲", "a step that was skipped or stayed unclear"),
        ("[d]one", "an answer and the letter that gives it"),
    )

    def note(self) -> str:
        """Where the firmware's guard is."""
        running = self.bench.rehearsing
        return f"guard {running.guard}" if running is not None else ""

    def draw(self, width: int, height: int) -> list[Row]:
        """What is asked, what may be answered, and the steps done."""
        running = self.bench.rehearsing
        if running is None:
            return [row_of(width, [(2, "no rehearsal is running", "dim")])]
        rows: list[Row] = []
        prompt = running.shown()
        if prompt is not None:
            rows += [row_of(width, [(2, line, "head!")]) for line in wrapped(plain(prompt.text), width - 4)]
            offered = "   ".join(f"[{answer[0]}]{answer[1:]}" for answer in prompt.answers)
            rows.append(row_of(width, [(2, fit(offered or "watching ...", width - 3), "accent")]))
        else:
            glyph, style = MARKS["passed" if running.passed else "failed"]
            words = "every step passed" if running.passed else running.broken_off or "not every step passed"
            rows.append(row_of(width, [(2, glyph, style), (4, fit(words, width - 5), style)]))
            rows.append(row_of(width, [(4, fit("it is over: enter saves the result", width - 5), "dim")]))
        rows.append(row_of(width, [(1, "─" * (width - 2), "faint")]))
        for verdict in reversed(running.verdicts):
            rows += verdict_rows(verdict, width)
        return rows[:height]


def verdict_rows(verdict: StepVerdict, width: int) -> list[Row]:
    """A step's verdict: glyph, step and outcome in words, then what was seen."""
    glyph, style = MARKS.get(str(verdict.outcome), ("▲", "warn!"))
    head = row_of(
        width, [(1, glyph, style), (3, fit(f"{verdict.step}: {verdict.outcome}", width - 4), style)]
    )
    return [head, *(row_of(width, [(3, line, "dim")]) for line in wrapped(plain(verdict.said), width - 4))]
