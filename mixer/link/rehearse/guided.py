"""Steps with a person, in their order, each a generator, fed with all that comes: the one judge of answers.

Screen and command line hand on every event of the link and every answer, and show what stands here; they
judge nothing themselves, so they cannot differ. Three things keep an answer from counting for what it was
not meant for: it names the prompt it answers (`asked`), it is refused for `TOO_SOON_US` after that prompt
came up, and nothing but what the prompt offers is taken.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from mixer.board.frames import Frame, Identity
from mixer.errors import OptionError
from mixer.link.rehearse.holes import Holes
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind, StepVerdict
from mixer.link.rehearse.script import SKIP, Step
from mixer.link.rehearse.stand import Stand
from mixer.link.session import SessionEvent, Unplugged

TOO_SOON_US = 250_000
"""Nobody reads a new prompt and answers it within this time."""


@dataclass
class Scene:
    """One entry of the script: what is done, and what came of it the last time."""

    begin: Callable[["Scene"], Step]
    verdicts: list[StepVerdict] = field(default_factory=list)
    kind: ReceiverKind | None = None

    def found(self, kind: ReceiverKind) -> None:
        """What the receiver turned out to be."""
        self.kind = kind


class Guided:
    """Show `prompt`, give it `hear(event)` for all that the link says and `answer(text, asked)`."""

    def __init__(
        self,
        stand: Stand,
        scenes: Iterable[Scene],
        *,
        gates: frozenset[str],
        now_us: Callable[[], int] | None = None,
    ) -> None:
        """Scenes that have verdicts already are not gone through again.

        `gates` are steps without which the others make no sense: it ends when one of them is not passed.
        `now_us` is the clock of questions and answers; without one it is the board's.
        """
        self._stand = stand
        self._holes = Holes(stand.plan)
        self._scenes = list(scenes)
        self._gates = gates
        self._now_us = now_us or (lambda: stand.now_us)
        self._waiting = [k for k, scene in enumerate(self._scenes) if not scene.verdicts]
        self._now = -1
        self._step: Step | None = None
        self._asked_us = 0
        self._judged_last = ""
        self._fresh: list[StepVerdict] = []
        """Judged since the last answer or event."""
        self.asked = 0
        """The number of the present prompt: one more whenever another is shown."""
        self.prompt: Prompt | None = None
        """What to show now; None when it is over."""
        self.broken_off = ""
        """Why it ended before its last step, where the link is to blame; empty otherwise."""
        self._begin_next()

    @property
    def verdicts(self) -> tuple[StepVerdict, ...]:
        """The steps done so far, in the order of the script; holes in the frames counted in."""
        return tuple(self._holes.judged(verdict) for scene in self._scenes for verdict in scene.verdicts)

    @property
    def finished(self) -> bool:
        """Whether there is nothing more to ask."""
        return self.prompt is None

    @property
    def complete(self) -> bool:
        """Whether every step was gone through."""
        return self.finished and not self._waiting and not self.broken_off

    @property
    def pulses_us(self) -> tuple[int, ...]:
        """The last pulse of each channel, for showing."""
        return tuple(self._stand.pulses)

    @property
    def guard(self) -> str:
        """The firmware's guard, in a word, for showing."""
        return self._stand.guard.name.lower()

    @property
    def waited_s(self) -> float:
        """How long the present prompt has been up."""
        return (self._now_us() - self._asked_us) / 1e6

    def hear(self, event: SessionEvent) -> tuple[StepVerdict, ...]:
        """Take in what the link says. The verdicts this brought, if any.

        Raises:
            WrongDeviceError: the frames do not have this robot's channels.
        """
        if self.prompt is None:
            return ()
        if isinstance(event, Unplugged):
            self.broken_off = f"{event.said}: what the receiver did meanwhile cannot be known"
            self._waiting.insert(0, self._now)
            self._stop()
            return ()
        self._holes.take(event, self.prompt.step)
        if isinstance(event, Identity):
            self._stand.identity = event
        if not isinstance(event, Frame):
            return ()
        self._stand.take(event)
        return self._send("")

    def answer(self, text: str, asked: int | None = None) -> tuple[StepVerdict, ...]:
        """Answer the prompt number `asked`, else the present one. The verdicts this brought, if any.

        Raises:
            OptionError: it answers another prompt, comes too soon to be meant, or is not offered.
        """
        if asked is not None and asked != self.asked:
            raise OptionError(f"{text!r} came when the next question was up", "read it, then answer it")
        prompt = self.prompt
        text, why = _with_reason(text, prompt)
        if prompt is None or not prompt.takes(text):
            allowed = (prompt.offered(" or ") if prompt else "") or "nothing: it is watching"
            raise OptionError(f"{text!r} is no answer here", f"answer {allowed}")
        if prompt.reason and text == SKIP and not why:
            raise OptionError("skipping needs a reason", "type skip and why, such as: skip no scale here")
        if self._now_us() - self._asked_us < TOO_SOON_US:
            said = f"too soon: {text!r} came before the question could be read"
            raise OptionError(said, "answer it now")
        return self._send(text, why)

    def repeat(self, step: str = "") -> None:
        """Go through a step anew, by default the last one that was judged; then on from where it was.

        What was found in it is forgotten. Raises OptionError for a step that has not been judged.
        """
        done = {verdict.step: k for k, scene in enumerate(self._scenes) for verdict in scene.verdicts}
        wanted = step or self._judged_last
        if wanted not in done:
            said = f"{wanted!r} has not been gone through yet" if wanted else "no step has been judged yet"
            raise OptionError(said, f"one of {', '.join(done)}" if done else "answer what is asked first")
        number = done[wanted]
        again = [number] if self._now in (-1, number) else [number, self._now]
        self._waiting = again + [k for k in self._waiting if k not in again]
        scene = self._scenes[number]
        self._holes.forget({verdict.step for verdict in scene.verdicts})
        scene.verdicts, scene.kind, self.broken_off = [], None, ""
        self._begin_next()

    def _begin_next(self) -> None:
        """Go to the next step's first prompt; past the last there is none."""
        if not self._waiting:
            self._stop()
            return
        self._now = self._waiting.pop(0)
        scene = self._scenes[self._now]
        self._step = scene.begin(scene)
        self._go_on(self._step, None)

    def _stop(self) -> None:
        self._step, self.prompt, self._now = None, None, -1

    def _show(self, prompt: Prompt) -> None:
        if prompt is not self.prompt:
            self.prompt, self._asked_us = prompt, self._now_us()
            self.asked += 1

    def _send(self, text: str, why: str = "") -> tuple[StepVerdict, ...]:
        if self._step is None or self.prompt is None:
            return ()
        self._go_on(self._step, text, why)
        fresh, self._fresh = self._fresh, []
        return tuple(map(self._holes.judged, fresh))

    def _go_on(self, step: Step, text: str | None, why: str = "") -> None:
        """To the step's next prompt, or past its end to the next step's; `text` None begins it."""
        try:
            prompt = next(step) if text is None else step.send(text)
        except StopIteration as ended:
            self._judged([_because(verdict, why) for verdict in ended.value])
        else:
            self._show(prompt)

    def _judged(self, verdicts: list[StepVerdict]) -> None:
        self._scenes[self._now].verdicts = verdicts
        self._fresh += verdicts
        if verdicts:
            self._judged_last = verdicts[-1].step
        if any(v.step in self._gates and v.outcome is not Outcome.PASSED for v in verdicts):
            self._waiting.insert(0, self._now)
            self._stop()
        else:
            self._begin_next()


def _with_reason(text: str, prompt: Prompt | None) -> tuple[str, str]:
    """The answer, and why, where `skip` is followed by words."""
    first, _, why = text.partition(" ")
    skips = prompt is not None and SKIP in prompt.answers and bool(first) and SKIP.startswith(first)
    return (SKIP, why.strip()) if skips and why.strip() else (text, "")


def _because(verdict: StepVerdict, why: str) -> StepVerdict:
    skipped = bool(why) and verdict.outcome is Outcome.SKIPPED
    return replace(verdict, said=f"skipped: {why}") if skipped else verdict
