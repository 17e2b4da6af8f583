"""The judge of a receiver test: the steps in their order, each a generator, fed with all that comes.

Screen and command line hand on every event of the link and every answer, and show what stands here; they
judge nothing themselves, so they cannot differ. Three things keep an answer from counting for what it was
not meant for: it names the prompt it answers (`asked`), it is refused for `TOO_SOON_US` after that prompt
came up, and nothing but what the prompt offers is taken.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial

from mixer.core.plan import Plan, StickPlan, SwitchPlan
from mixer.errors import OptionError
from mixer.link.frames import Frame
from mixer.link.rehearse.hands_on import (
    arm_and_disarm,
    confirm_ready,
    find_signal,
    flip_switch,
    sweep_stick,
)
from mixer.link.rehearse.holes import Holes
from mixer.link.rehearse.lights_out import power_up_without_signal, switch_off
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind, RehearsalResult, StepVerdict
from mixer.link.rehearse.script import Step
from mixer.link.rehearse.stand import Stand
from mixer.link.session import SessionEvent, Unplugged

GATES = {"ready", "signal"}
"""Steps without which the others make no sense: the rehearsal ends when one of them is not passed."""
TOO_SOON_US = 250_000
"""Nobody reads a new prompt and answers it within this time of the board's clock."""


@dataclass
class _Scene:
    """One entry of the script: what is done, and what came of it the last time."""

    begin: Callable[["_Scene"], Step]
    verdicts: list[StepVerdict] = field(default_factory=list)
    kind: ReceiverKind | None = None

    def found(self, kind: ReceiverKind) -> None:
        """What the receiver turned out to be."""
        self.kind = kind


class Rehearsal:
    """Show `prompt`, give it `hear(event)` for all that the link says and `answer(text, asked)`."""

    def __init__(self, plan: Plan, *, confirmed: bool = False) -> None:
        """`confirmed`: the question of wheels and weapon has been answered with yes where it was shown."""
        self._plan = plan
        self._stand = Stand(plan)
        self._holes = Holes(plan)
        self._scenes = list(self._script())
        self._waiting = list(range(len(self._scenes)))
        self._now = -1
        self._step: Step | None = None
        self._asked_us = 0
        self._judged_last = ""
        self.asked = 0
        """The number of the present prompt: one more whenever another is shown."""
        self.prompt: Prompt | None = None
        """What to show now; None when the rehearsal is over."""
        self.broken_off = ""
        """Why it ended before its last step, where the link is to blame; empty otherwise."""
        self._begin_next()
        if confirmed:
            self._send("yes")

    @property
    def verdicts(self) -> tuple[StepVerdict, ...]:
        """The steps done so far, in the order of the script; holes in the frames counted in."""
        return tuple(self._holes.judged(verdict) for scene in self._scenes for verdict in scene.verdicts)

    @property
    def finished(self) -> bool:
        """Whether there is nothing more to ask."""
        return self.prompt is None

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
        """How long the present prompt has been up, by the board's clock."""
        return (self._stand.now_us - self._asked_us) / 1e6

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
        answers = self.prompt.answers if self.prompt else ()
        if text not in answers:
            allowed = " or ".join(answers) or "nothing: it is watching"
            raise OptionError(f"{text!r} is no answer here", f"answer {allowed}")
        if self._stand.now_us - self._asked_us < TOO_SOON_US:
            said = f"too soon: {text!r} came before the question could be read"
            raise OptionError(said, "answer it now")
        return self._send(text)

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

    def result(self) -> RehearsalResult:
        """What has been found, whether finished or not."""
        kinds = [scene.kind for scene in self._scenes if scene.kind is not None]
        complete = self.finished and not self._waiting and not self.broken_off
        return RehearsalResult(self._plan.name, self.verdicts, kinds[-1] if kinds else None, complete)

    def _script(self) -> Iterator[_Scene]:
        stand, plan = self._stand, self._plan
        yield _Scene(lambda _: confirm_ready(stand))
        yield _Scene(lambda _: find_signal(stand))
        yield from map(_Scene, (partial(_sweep, stand, stick) for stick in plan.sticks))
        yield from map(_Scene, (partial(_flip, stand, switch) for switch in plan.switches))
        yield _Scene(lambda _: arm_and_disarm(stand))
        yield _Scene(lambda scene: switch_off(stand, driving=False, found=scene.found))
        yield _Scene(lambda scene: switch_off(stand, driving=True, found=scene.found))
        yield _Scene(lambda _: power_up_without_signal(stand))

    def _begin_next(self) -> None:
        """Go to the next step's first prompt; past the last there is none."""
        if not self._waiting:
            self._stop()
            return
        self._now = self._waiting.pop(0)
        scene = self._scenes[self._now]
        self._step = scene.begin(scene)
        self._show(next(self._step))

    def _stop(self) -> None:
        self._step, self.prompt, self._now = None, None, -1

    def _show(self, prompt: Prompt) -> None:
        if prompt is not self.prompt:
            self.prompt, self._asked_us = prompt, self._stand.now_us
            self.asked += 1

    def _send(self, text: str) -> tuple[StepVerdict, ...]:
        if self._step is None or self.prompt is None:
            return ()
        try:
            self._show(self._step.send(text))
        except StopIteration as ended:
            verdicts: list[StepVerdict] = ended.value
            self._scenes[self._now].verdicts, self._judged_last = verdicts, verdicts[-1].step
            if any(v.step in GATES and v.outcome is not Outcome.PASSED for v in verdicts):
                self._waiting.insert(0, self._now)
                self._stop()
            else:
                self._begin_next()
            return tuple(map(self._holes.judged, verdicts))
        return ()


def _sweep(stand: Stand, stick: StickPlan, _: _Scene) -> Step:
    return sweep_stick(stand, stick)


def _flip(stand: Stand, switch: SwitchPlan, _: _Scene) -> Step:
    return flip_switch(stand, switch)
