"""The run loop: an engine over a feed of inputs, chunk by chunk.

The engine goes on from the state it has, so a run may start anywhere: power it up with `reset()`, or set it
to a recorded state with `reset(state)` first.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from mixer.core.plan import Plan
from mixer.runs.log.mapping import Mapping
from mixer.runs.log.notices import Notice, Notices
from mixer.runs.log.read import open_log
from mixer.runs.play.engines import DEFAULT_ENGINE, Engine, make_engine
from mixer.runs.play.feed import Chunk, Numbers, feed


class Played(NamedTuple):
    """A stretch of what the firmware did."""

    first_tick: int
    signals: Numbers
    """(ticks, signals), in the order of the plan's layout."""
    inputs: Numbers
    """(ticks, inputs)."""


def replay(engine: Engine, chunks: Iterable[Chunk]) -> Iterator[Played]:
    """Run the firmware over every chunk in turn."""
    for first_tick, inputs in chunks:
        yield Played(first_tick, engine.run(inputs), inputs)


class LogReplay:
    """One log played through one plan: reader, feed and engine put together.

    Raises LogError, OptionError or MissingToolError at once for a log, engine name or compiler that
    cannot be used; rows that cannot be read raise LogError from `plays()`.
    """

    def __init__(
        self,
        plan: Plan,
        path: Path,
        *,
        engine: str = DEFAULT_ENGINE,
        mapping: Mapping | None = None,
        unused: Collection[str] = (),
    ) -> None:
        self.plan = plan
        self.path = path
        self._reader = open_log(path, plan, mapping, unused)
        self.engine = make_engine(engine, plan)
        self._fed = Notices(str(path))

    def plays(self, state: Sequence[int] | None = None) -> Iterator[Played]:
        """Play the whole log from power-up, or from a recorded state."""
        self.engine.reset(state)
        return replay(self.engine, self.chunks())

    def chunks(self) -> Iterator[Chunk]:
        """The log as inputs at the plan's tick, for whoever runs the engine in a loop of their own."""
        self._fed = Notices(str(self._reader.path))
        return feed(self._reader.rows(), self.plan, self._fed)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was put right so far; complete once `plays()` has been read to its end."""
        return self._reader.notices + self._fed.listed()

    @property
    def progress(self) -> float:
        """How much of the log has been read, 0 to 1."""
        return self._reader.progress
