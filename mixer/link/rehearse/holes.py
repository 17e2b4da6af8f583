"""Steps in which frames were missing: they cannot be claimed as passed.

A hole in the frames looks like a receiver that stops. A hole shorter than half of the time after which the
firmware takes the signal for lost cannot by itself make it stop, and does no harm. A restarted board is a
hole of unknown length, except in the step that asks for the power to be taken away, and while nothing but
the first yes is waited for: many boards restart when their port is opened.
"""

from dataclasses import replace

from mixer.board.frames import BeganAnew, Frame, Restarted, microseconds_between
from mixer.core.plan import Plan
from mixer.link.rehearse.report import Outcome, StepVerdict
from mixer.link.session import SessionEvent

MAY_RESTART = ("ready", "power-up")
"""How the names of those steps begin."""


class Holes:
    """Fed with every event before the steps are, together with the step that is on."""

    def __init__(self, plan: Plan) -> None:
        self._harmless_us = plan.guard.lost_ticks * plan.tick_ms * 1000 // 2
        self._last_us: int | None = None
        self._last_step = ""
        self._steps: dict[str, str] = {}

    def take(self, event: SessionEvent, step: str) -> None:
        """Note what was missing, if it matters: for every step that was on during the hole."""
        match event:
            case Frame():
                if self._last_us is not None:
                    gap_us = microseconds_between(self._last_us, event.time_us)
                    if gap_us > self._harmless_us:
                        for during in {self._last_step, step}:
                            self._steps[during] = f"no frame came for {gap_us / 1000:.0f} ms"
                self._last_us, self._last_step = event.time_us, step
            case Restarted():
                self._last_us = None
                if not step.startswith(MAY_RESTART):
                    self._steps[step] = "the board restarted"
            case BeganAnew():
                self._steps[step] = "a tick came late on the board and its mix began anew"

    def forget(self, steps: set[str]) -> None:
        """These steps are gone through anew."""
        for step in steps:
            self._steps.pop(step, None)

    def judged(self, verdict: StepVerdict) -> StepVerdict:
        """The verdict; unclear where it would have passed with a hole in it."""
        said = self._steps.get(verdict.step)
        if said is None or verdict.outcome is not Outcome.PASSED:
            return verdict
        why = f"{said} meanwhile, so this proves nothing: mend the cable or supply, then again"
        return replace(verdict, outcome=Outcome.UNCLEAR, said=why)
