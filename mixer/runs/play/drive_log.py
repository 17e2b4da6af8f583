"""A recorded drive as a board's inputs: one log for one plan, and the state it begins in."""

from collections.abc import Collection, Iterator
from pathlib import Path

import numpy as np

from mixer.core.plan import Plan
from mixer.runs.log.mapping import Mapping
from mixer.runs.log.notices import Notice, Notices
from mixer.runs.log.read import open_log
from mixer.runs.play.feed import Chunk, feed
from mixer.runs.play.start_state import read_start_state
from mixer.runs.play.stretch import Numbers


class DriveLog:
    """One log for one plan.

    Raises LogError at once for a log, or a start state beside it, that cannot be used; rows that cannot be
    read raise LogError from `chunks()`.
    """

    def __init__(
        self, plan: Plan, path: Path, *, mapping: Mapping | None = None, unused: Collection[str] = ()
    ) -> None:
        self.plan = plan
        self.path = path
        self.start_state = read_start_state(path, plan)
        """The firmware's state that the log begins in; None for power-up."""
        self._reader = open_log(path, plan, mapping, unused)
        self._fed = Notices(str(path))

    def chunks(self) -> Iterator[Chunk]:
        """The log as inputs at the plan's tick, a stretch at a time; memory does not grow with the log."""
        self._fed = Notices(str(self._reader.path))
        return feed(self._reader.rows(), self.plan, self._fed)

    def inputs(self) -> Numbers:
        """(ticks, inputs): the whole log at once."""
        return np.concatenate([chunk.inputs for chunk in self.chunks()])

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was put right so far; complete once `chunks()` has been read to its end."""
        return self._reader.notices + self._fed.listed()

    @property
    def progress(self) -> float:
        """How much of the log has been read, 0 to 1."""
        return self._reader.progress
