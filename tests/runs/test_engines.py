"""Engines: one board, whoever computes it."""

import numpy as np
import pytest
from hypothesis import given, settings
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.tick import flat_tick
from mixer.errors import OptionError
from mixer.runs.play.engines import DEFAULT_ENGINE, ENGINE_NAMES, make_engine
from mixer.runs.play.feed import Chunk
from tests.plans import tipper_plan
from tests.runs.drives import armed_inputs, runs, stretches


@pytest.mark.parametrize("name", ["direct", "python"])
@settings(max_examples=25)
@given(inputs=runs())
def test_run_is_tick_after_tick(name: str, inputs: NDArray[np.int32]) -> None:
    """A run gives what the core gives when it is called by hand, and leaves the same state."""
    plan = tipper_plan()
    state, expected = list(layout_of(plan).start), []
    for values in inputs.tolist():
        signals, state = flat_tick(plan, values, state)
        expected.append(signals)
    engine = make_engine(name, plan)

    assert engine.run(inputs).tolist() == expected
    assert engine.state == tuple(state)


def test_state_can_be_set() -> None:
    """A run may start from any recorded state, and from power-up again."""
    plan, inputs = tipper_plan(), armed_inputs((40, (1900, 1700, 1500, 2000, 0, 0)))
    engine = make_engine(DEFAULT_ENGINE, plan)
    first = engine.run(inputs[:8])
    half_way = engine.state
    rest = engine.run(inputs[8:])
    engine.reset(half_way)
    again = engine.run(inputs[8:])
    engine.reset()

    assert np.array_equal(rest, again)
    assert not np.array_equal(first[-1], rest[-1])
    assert engine.state == layout_of(plan).start
    with pytest.raises(ValueError, match=r"^a state of 2 numbers where the plan has \d+$"):
        engine.reset([1, 2])


def test_step_and_run_agree() -> None:
    """Stepping is running one tick at a time."""
    plan, inputs = tipper_plan(), armed_inputs((30, (1900, 1700, 1600, 2000, 0, 0)))
    stepping, running = (make_engine("direct", plan) for _ in range(2))

    assert [list(stepping.step(values)) for values in inputs.tolist()] == running.run(inputs).tolist()


def test_replay_goes_on_from_chunk_to_chunk() -> None:
    """Chunks are one run, not many."""
    plan, inputs = tipper_plan(), armed_inputs((30, (1900, 1700, 1600, 2000, 0, 0)))
    chunks = [Chunk(at, inputs[at : at + 7]) for at in range(0, len(inputs), 7)]
    plays = stretches("direct", plan, chunks)

    assert np.array_equal(
        np.concatenate([played.signals for played in plays]), make_engine("direct", plan).run(inputs)
    )
    assert [played.first_tick for played in plays] == [chunk.first_tick for chunk in chunks]


def test_unknown_engine() -> None:
    """A name that is no engine is refused with those there are."""
    with pytest.raises(
        OptionError, match=f"^there is no engine 'steam'\n    remedy: one of {', '.join(ENGINE_NAMES)}$"
    ):
        make_engine("steam", tipper_plan())
