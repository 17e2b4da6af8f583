"""The fourth stage: the guard, as a gate in the stream."""

from typing import ClassVar

from tui.bench.state import share
from tui.drawing.gate import Flow, gate
from tui.drawing.rows import Row
from tui.panels.river import StagePanel

CELLS_A_SECOND = 10.0


class GatePanel(StagePanel):
    """Whether outputs follow the sticks, and why not."""

    title: ClassVar[str] = "guard"
    letter: ClassVar[str] = "u"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
The guard decides whether outputs follow the sticks; the plate says what it waits for.

Try: 1 moves the first switch. With an arm switch: off, sticks at neutral, then on."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("○ searching", "no signal yet since power-up"),
        ("◐ resting", "signal, but not armed: the plate says what is missing, its bar is the arming time"),
        ("● live", "the gate is open, every output follows"),
        ("■ stopped", "the signal is lost; all outputs go to zero"),
        ("✕ faulted", "a fault is latched; it stays until disarmed"),
        ("━╸━▶", "what an output carries: the gaps wander with it"),
        ("█  ╎", "the gate shut, and open"),
        ("·····", "nothing comes through"),
    )

    def seen(self) -> object:
        """The guard, and what flows through it."""
        view = self.bench.snapshot
        flows = tuple((output.blended, output.command) for output in view.outputs)
        moving = any(before or after for before, after in flows)
        return view.plan_revision, view.guard, flows, int(view.time_s * CELLS_A_SECOND) if moving else 0

    def draw(self, width: int, height: int) -> list[Row]:
        """The gate in its present state."""
        view = self.bench.snapshot
        flows = [
            Flow(line, share(output.blended), share(output.command))
            for output, line in zip(view.outputs, self.outputs(height).lines, strict=True)
            if line >= 0
        ]
        guard = view.guard
        phase = int(view.time_s * CELLS_A_SECOND)
        return gate(guard.state, guard.why, guard.arming, flows, width, height, phase)
