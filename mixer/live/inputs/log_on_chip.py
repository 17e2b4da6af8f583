"""A log played onto the pins of a board's image, under a robot that moves, sags and breaks.

    drive = LogOnChip(flashed, robot)          # the robot's faults are broken at the pins from now on
    for _ in drive.play(log.chunks()):         # a stretch of ticks each
        ...
    account = drive.account()                  # what was compared, and what differs

Without a body and faults a log is played whole (`mixer.runs.play.on_board`): nothing outside the board then
goes by what it does. Here each tick waits for the one before it. A log is known beforehand, so its pulses
are on their wires in time, and rows and ticks go together one to one; what the robot presses is read in
the next tick.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account
from mixer.core.rest import contact_levels
from mixer.live.robot.on_chip import ImageLoop
from mixer.live.robot.robot import LiveRobot
from mixer.runs.play.feed import Chunk

PIECE_TICKS = 500


class LogOnChip:
    """One image under one robot, from power-up to the end of one log."""

    mode = "replay"

    def __init__(self, flashed: Flashed, robot: LiveRobot) -> None:
        """Power up. Raises as `Flashed.power_up` does."""
        self.flashed = flashed
        self._robot, self._loop = robot, ImageLoop(flashed, robot, robot.faults)
        self._rows: deque[list[int]] = deque()
        self._loop.power_up()
        self._loop.follows_body = True
        self._loop.early = self._loop.run.ahead
        robot.faults, robot.driven_by = self._loop, self._loop.commands
        robot.add(self._loop)

    def play(self, chunks: Iterable[Chunk]) -> Iterator[None]:
        """Run the robot through all of it, a stretch at a time; the chip is switched off at its end."""
        rows = self._stream(chunks)
        try:
            self._loop.prime(islice(rows, self._loop.early))
            while piece := list(islice(rows, PIECE_TICKS)):
                self._rows.extend(piece)
                self._robot.play(self, len(piece))
                yield
            self._loop.finish()
        finally:
            self._loop.close()

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """The log's next row, for a later tick, with the contacts that the body presses as they are."""
        del tick
        row = self._rows.popleft()
        first = len(row) - len(readings)
        for number in self._robot.pressed:
            row[first + number] = readings[number]
        return row

    def account(self) -> Account:
        """What was compared, and what differs."""
        return self._loop.account()

    def _stream(self, chunks: Iterable[Chunk]) -> Iterator[list[int]]:
        """Every row, and then as many without a pulse as rows are on their wires before their ticks."""
        channels, last = len(self.flashed.plan.channels), contact_levels(self.flashed.plan)
        for chunk in chunks:
            for row in chunk.inputs.tolist():
                last = row[channels:]
                yield row
        for _ in range(self._loop.early):
            yield [0] * channels + list(last)
