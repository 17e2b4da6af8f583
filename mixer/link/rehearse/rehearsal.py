"""The rehearsal itself: the steps in their order, one generator after the other."""

from collections.abc import Iterator

from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.link.frames import Frame
from mixer.link.rehearse.hands_on import (
    arm_and_disarm,
    confirm_ready,
    find_signal,
    flip_switch,
    sweep_stick,
)
from mixer.link.rehearse.lights_out import power_up_without_signal, switch_off
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind, RehearsalResult, StepVerdict
from mixer.link.rehearse.script import Step
from mixer.link.rehearse.stand import Stand

GATES = {"ready", "signal"}
"""Steps without which the others make no sense: the rehearsal ends when one of them is not passed."""


class Rehearsal:
    """Show `prompt`, give it `feed(frame)` for each frame and `answer(text)` for each answer."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._stand = Stand(plan)
        self._kinds: list[ReceiverKind] = []
        self._verdicts: list[StepVerdict] = []
        self._steps = self._script()
        self._complete = False
        self._step: Step | None = None
        self.prompt: Prompt | None = None
        """What to show now; None when the rehearsal is over."""
        self._begin_next()

    @property
    def verdicts(self) -> tuple[StepVerdict, ...]:
        """The steps done so far."""
        return tuple(self._verdicts)

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

    def feed(self, frame: Frame) -> tuple[StepVerdict, ...]:
        """Take one frame in. The verdicts this brought, if any."""
        self._stand.take(frame)
        return self._send("")

    def answer(self, text: str) -> tuple[StepVerdict, ...]:
        """Answer the prompt. The verdicts this brought, if any.

        Raises:
            OptionError: the prompt does not take this answer.
        """
        answers = self.prompt.answers if self.prompt else ()
        if text not in answers:
            allowed = " or ".join(answers) or "nothing: it is watching"
            raise OptionError(f"{text!r} is no answer here", f"answer {allowed}")
        return self._send(text)

    def result(self) -> RehearsalResult:
        """What has been found, whether finished or not."""
        kind = self._kinds[-1] if self._kinds else None
        return RehearsalResult(self._plan.name, self.verdicts, kind, self._complete)

    def _script(self) -> Iterator[Step]:
        stand, found = self._stand, self._kinds.append
        yield confirm_ready(stand)
        yield find_signal(stand)
        yield from (sweep_stick(stand, stick) for stick in self._plan.sticks)
        yield from (flip_switch(stand, switch) for switch in self._plan.switches)
        yield arm_and_disarm(stand)
        yield switch_off(stand, driving=False, found=found)
        yield switch_off(stand, driving=True, found=found)
        yield power_up_without_signal(stand)

    def _begin_next(self) -> None:
        """Go to the next step's first prompt; past the last there is none."""
        self._step = next(self._steps, None)
        self._complete = self._step is None
        self.prompt = next(self._step) if self._step else None

    def _send(self, text: str) -> tuple[StepVerdict, ...]:
        if self._step is None or self.prompt is None:
            return ()
        try:
            self.prompt = self._step.send(text)
        except StopIteration as ended:
            verdicts: list[StepVerdict] = ended.value
            self._verdicts += verdicts
            self._go_on(verdicts)
            return tuple(verdicts)
        return ()

    def _go_on(self, verdicts: list[StepVerdict]) -> None:
        stuck = any(v.step in GATES and v.outcome is not Outcome.PASSED for v in verdicts)
        if stuck:
            self._step = self.prompt = None
        else:
            self._begin_next()
