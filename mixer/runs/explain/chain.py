"""One moment followed from pulse to motor: why is this output where it is?

The robot is powered up, armed with its sticks at neutral, and then given the pulses asked about until
nothing changes any more. Every number told is a signal of that last tick of the real firmware, or what the
core's own function makes of such a signal; nothing is worked out a second way.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from mixer.core.plan import Guard, Plan
from mixer.core.rest import resting_inputs
from mixer.runs.explain.outputs import output_steps
from mixer.runs.explain.positions import inputs_at
from mixer.runs.explain.reasons import why_not_live
from mixer.runs.explain.steps import Step
from mixer.runs.play.engines import DEFAULT_ENGINE, Engine, make_engine

__all__ = ["Explanation", "OutputChain", "Step", "explain", "settle"]

_MOST_TICKS = 20_000
"""More than the slowest slew needs from nothing to full (`ONE` ticks)."""


@dataclass(frozen=True, slots=True)
class OutputChain:
    """One output, stage after stage."""

    name: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """The whole robot at one moment."""

    robot: str
    guard: str
    """The guard's state."""
    why_not_live: tuple[str, ...]
    outputs: tuple[OutputChain, ...]


def explain(plan: Plan, at: Mapping[str, int | str], engine: str = DEFAULT_ENGINE) -> Explanation:
    """Follow the given pulses or positions through the armed robot.

    What is not given rests: sticks at neutral, the arm switch on, contacts open. Raises OptionError for a
    name or value that fits nothing.
    """
    board = make_engine(engine, plan)
    wanted = inputs_at(plan, at)
    settle(plan, board, resting_inputs(plan, armed=False))
    settle(plan, board, resting_inputs(plan, armed=True))
    numbers = settle(plan, board, wanted)
    signals, state = board.layout.signals_of(numbers), board.layout.state_of(board.state)
    chains = [
        OutputChain(output.name, tuple(output_steps(plan, number, wanted, signals, state)))
        for number, output in enumerate(plan.outputs)
    ]
    return Explanation(
        robot=plan.name,
        guard=Guard(signals.guard.state).name.lower(),
        why_not_live=why_not_live(plan, signals, state),
        outputs=tuple(chains),
    )


def settle(plan: Plan, engine: Engine, inputs: list[int]) -> list[int]:
    """Run until no signal changes for longer than any of the plan's waiting times; the last signals.

    Stops there, before an actuator's travel watch can run out merely because time went by.
    """
    still_for = max(
        plan.guard.hold_ticks,
        plan.guard.off_ticks,
        plan.guard.lost_ticks,
        plan.flip.settle_ticks if plan.flip else 0,
        *(contact.release_ticks for contact in plan.contacts),
        *(actuator.both_ticks for actuator in plan.actuators),
        *(output.pause_ticks for output in plan.outputs),
    )
    before: list[int] = []
    still = 0
    for _ in range(_MOST_TICKS + still_for):
        now = list(engine.step(inputs))
        still = still + 1 if now == before else 0
        before = now
        if still > still_for:
            break
    return before
