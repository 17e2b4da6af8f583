"""A log played onto the pins of a board's image, and the core run on what the board read.

board = BoardPlay(flashed)
for chunk in board.chunks(log.chunks()):       # as the board read them
    robot.take(chunk.inputs)                   # the core; `board` is one of its sinks
account = board.account()                      # what was compared, and what differs
"""

from collections import deque
from collections.abc import Iterable, Iterator

import numpy as np

from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account, Parity
from mixer.board.engine.run import BoardTick, ImageRun
from mixer.core.layout import layout_of
from mixer.runs.play.feed import Chunk
from mixer.runs.play.stretch import Numbers, Stretch


class BoardPlay:
    """One image beside the core, from power-up to the end of one log."""

    def __init__(self, flashed: Flashed) -> None:
        """Power up. Raises as `Flashed.power_up` does."""
        places = layout_of(flashed.plan).places
        self.flashed = flashed
        self._run: ImageRun = flashed.power_up()
        self._parity = Parity(self._run, flashed.plan)
        self._obeyed = [*(output.wire for output in places.outputs), places.guard.state]
        self._given: deque[Chunk] = deque()
        self._through: deque[BoardTick] = deque()
        self._judged: deque[BoardTick] = deque()

    def chunks(self, chunks: Iterable[Chunk]) -> Iterator[Chunk]:
        """The same stretches with what the board read of them, each once its last tick is through."""
        try:
            for chunk in chunks:
                self._given.append(chunk)
                self._through.extend(self._run.feed(chunk.inputs.tolist()))
                yield from self._whole()
            self._through.extend(self._run.finish())
            yield from self._whole()
        finally:
            self._run.chip.close()

    def _whole(self) -> Iterator[Chunk]:
        while self._given and len(self._through) >= len(self._given[0].inputs):
            chunk = self._given.popleft()
            ticks = [self._through.popleft() for _ in range(len(chunk.inputs))]
            self._parity.read(ticks)
            self._judged.extend(ticks)
            yield chunk._replace(inputs=self._inputs(ticks))

    def _inputs(self, ticks: list[BoardTick]) -> Numbers:
        return np.array([tick.inputs for tick in ticks], np.int32)

    def add(self, stretch: Stretch) -> None:
        """What the core made of it, as a sink of the robot that ran it."""
        ticks = [self._judged.popleft() for _ in range(len(stretch.inputs))]
        self._parity.obeyed(ticks, stretch.signals[:, self._obeyed].tolist())
        self._parity.shown()

    def account(self) -> Account:
        """What was compared so far, and what differs."""
        return self._parity.account()
