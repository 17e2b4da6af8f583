"""Inputs that drive the tipper (`tests.plans`), and what engines make of them."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from mixer.core.plan import (
    Plan,
)
from mixer.runs.log.cells import NO_PULSE, NOT_READ, Row
from mixer.runs.measure.measures import Measures, Summary
from mixer.runs.play.engines import make_engine
from mixer.runs.play.feed import Chunk
from mixer.runs.play.stretch import Stretch

CHANNELS = ("throttle", "steering", "tip", "arm")
CONTACTS = ("stop_out", "stop_in")
NEUTRAL_OFF = (1500, 1500, 1500, 1000, 0, 0)
NEUTRAL_ON = (1500, 1500, 1500, 2000, 0, 0)
HOLD, LOST = 5, 10
"""Ticks of neutral before going live, and without a pulse before a channel is lost."""


def armed_inputs(*spans: tuple[int, tuple[int, ...]]) -> NDArray[np.int32]:
    """One tick disarmed, `HOLD` ticks armed at neutral, then so many ticks of each of some inputs."""
    rows = [NEUTRAL_OFF] + [NEUTRAL_ON] * HOLD
    for ticks, values in spans:
        rows += [values] * ticks
    return np.array(rows, dtype=np.int32)


def seconds(ticks: int) -> float:
    """How long so many ticks of the plan take."""
    return ticks * 2000 / 1_000_000


def with_text(folder: Path, text: str | bytes) -> Path:
    """A file with this text, byte for byte."""
    path = folder / "drive.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


ROWS = st.builds(
    lambda steps, cells: [
        Row(0, sum(steps[: index + 1]), *cell) for index, cell in enumerate(cells[: len(steps)])
    ],
    st.lists(st.integers(500, 90_000), min_size=5, max_size=30),
    st.lists(
        st.tuples(
            st.tuples(*[st.sampled_from([NO_PULSE, 1000, 1500, 1777, 2000, 700])] * len(CHANNELS)),
            st.tuples(*[st.sampled_from([0, 1, NOT_READ])] * len(CONTACTS)),
            st.none() | st.integers(0, 20_000).map(lambda mv: mv / 1000),
        ),
        min_size=30,
        max_size=30,
    ),
)
"""Rows in rising time, some pulses missing, some contacts not read."""


@st.composite
def runs(draw: st.DrawFn) -> NDArray[np.int32]:
    """Inputs that arm the robot, drive it hard, lose it and close its end stops."""
    pulses = st.sampled_from([NO_PULSE, 1000, 1250, 1500, 1500, 1900, 2000])
    values = st.tuples(
        pulses, pulses, pulses, st.sampled_from([0, 1000, 2000, 2000]), *[st.sampled_from([0, 0, 1])] * 2
    )
    spans = draw(
        st.lists(st.tuples(st.integers(1, 30), values | st.just(NEUTRAL_ON)), min_size=1, max_size=12)
    )
    return armed_inputs(*spans)


def stretches(engine: str, plan: Plan, chunks: Iterable[Chunk]) -> list[Stretch]:
    """What an engine makes of each chunk in turn."""
    board = make_engine(engine, plan)
    return [Stretch(first_tick, inputs, board.run(inputs)) for first_tick, inputs in chunks]


def summarise(plan: Plan, ran: Iterable[Stretch]) -> Summary:
    """The summary of a whole run."""
    measures = Measures(plan)
    for stretch in ran:
        measures.add(stretch)
    return measures.summary()
