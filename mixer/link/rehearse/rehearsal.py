"""The receiver test: its steps in their order, and what came of them."""

from collections.abc import Callable, Iterator
from functools import partial

from mixer.core.plan import Plan
from mixer.link.rehearse.guided import Guided, Scene
from mixer.link.rehearse.hands_on import (
    arm_and_disarm,
    confirm_ready,
    find_signal,
    flip_switch,
    sweep_stick,
)
from mixer.link.rehearse.lights_out import power_up_without_signal, switch_off
from mixer.link.rehearse.report import RehearsalResult
from mixer.link.rehearse.script import Step
from mixer.link.rehearse.stand import Stand

GATES = frozenset({"ready", "signal"})


class Rehearsal(Guided):
    """What one receiver does, from the first pulse to a lost transmitter."""

    def __init__(self, plan: Plan, *, confirmed: bool = False) -> None:
        """`confirmed`: the question of wheels and weapon has been answered with yes where it was shown."""
        stand = Stand(plan)
        super().__init__(stand, _script(plan, stand), gates=GATES)
        if confirmed:
            self._send("yes")

    def result(self) -> RehearsalResult:
        """What has been found, whether finished or not."""
        kinds = [scene.kind for scene in self._scenes if scene.kind is not None]
        return RehearsalResult(
            self._stand.plan.name, self.verdicts, kinds[-1] if kinds else None, self.complete
        )


def _script(plan: Plan, stand: Stand) -> Iterator[Scene]:
    def of(begin: Callable[[], Step]) -> Scene:
        return Scene(lambda _: begin())

    yield of(partial(confirm_ready, stand))
    yield of(partial(find_signal, stand))
    yield from (of(partial(sweep_stick, stand, stick)) for stick in plan.sticks)
    yield from (of(partial(flip_switch, stand, switch)) for switch in plan.switches)
    yield of(partial(arm_and_disarm, stand))
    yield Scene(lambda scene: switch_off(stand, driving=False, found=scene.found))
    yield Scene(lambda scene: switch_off(stand, driving=True, found=scene.found))
    yield of(partial(power_up_without_signal, stand))
