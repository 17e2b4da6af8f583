"""The second stage: the mix, drawn as threads from sources to outputs."""

from collections.abc import Sequence
from typing import ClassVar

from tui.bench.state import share
from tui.drawing.rows import Row
from tui.drawing.threads import RIPPLE, Thread, weave
from tui.panels.receiver import ReceiverPanel
from tui.panels.river import StagePanel

DOTS_A_SECOND = 14.0


class WeavePanel(StagePanel):
    """Which stick feeds which output, how much, and which way now."""

    title: ClassVar[str] = "mix"
    letter: ClassVar[str] = "m"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
The mix as threads: one from each stick (left) to each output it feeds (right).

With an output chosen (click it, or the arrow keys in the motors) only its own threads stay bright.

Change a weight with t (tune), section output.NAME, value mix STICK."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        (
            "⠒⠢⣀",
            "a thread: blue adds forward, amber reverse; pale carries nothing, thick more than 45 per cent",
        ),
        ("⠶", "its beads wander the way the signal goes"),
    )

    def seen(self) -> object:
        """What flows into the mix; where nothing does, the beads lie still."""
        view = self.bench.snapshot
        commands = tuple(source.command for source in view.sources)
        return view.plan_revision, commands, round(view.time_s * DOTS_A_SECOND) if any(commands) else 0

    def draw(self, width: int, height: int) -> Sequence[Row]:
        """All threads."""
        view = self.bench.snapshot
        receiver = self.screen.query_one(ReceiverPanel)
        starts = receiver.placed(height).lines
        ends = self.outputs(height).lines
        looking = self.bench.looking
        threads = []
        for number, (output, end) in enumerate(zip(view.outputs, ends, strict=True)):
            for source, start in zip(view.sources, starts, strict=False):
                weight = self.bench.weight(output.name, source.name)
                if weight and start >= 0 and end >= 0:
                    own = looking.lit and number == looking.output
                    carried = share(source.command) * weight
                    threads.append(Thread(start + 0.5, end + 0.5, carried, own, looking.lit and not own))
        return weave(threads, width, height, view.time_s * DOTS_A_SECOND % RIPPLE)
