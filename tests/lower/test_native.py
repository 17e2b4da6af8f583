"""The native engines: the core's bits, the engine's promises, and a library that is built once."""

import os
import random
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import MissingToolError
from mixer.lower.graph.trace import wire_signals
from mixer.lower.run import native, native_build
from mixer.lower.run.native import WIDTH, NativeEngine, NativeLanes
from mixer.lower.run.native_build import MOST_KEPT
from mixer.lower.run.native_source import native_source
from mixer.runs.play.engines import make_engine, quickest_engine
from mixer.testing.lowering import OneTick, check_lanes, check_lowering
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, plan_of_robot, random_rows
from tests.strategies import FULL_SIZE, random_plan, run_core

SOME = ("sample_carrier", "tank_pair")
OTHERS = tuple(name for name in ROBOTS if name not in SOME)
"""In the plain suite each example is asked in one of two ways, in the long one in both."""

pytestmark = pytest.mark.needs_tool("gcc")


@pytest.fixture(autouse=True)
def _own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Libraries go into a folder of the test run, shared by its tests."""
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path_factory.getbasetemp() / "libraries"))
    monkeypatch.delenv("STICKWRIGHT_CC", raising=False)


def one_tick(plan: Plan) -> OneTick:
    """The native engine as one function from state to state."""
    engine = NativeEngine(plan)

    def run(inputs: Sequence[int], state: Sequence[int]) -> tuple[Sequence[int], Sequence[int]]:
        engine.reset(state)
        return engine.step(inputs), engine.state

    return run


@pytest.mark.no_cover
@pytest.mark.parametrize("robot", cases(SOME, OTHERS))
def test_both_forms_pass_the_conformance_check(robot: str) -> None:
    """What every lowering must pass, one board at a time and in lanes; the robot was live meanwhile."""
    plan = plan_of_robot(robot)
    assert check_lowering(one_tick, plan, ticks=3000, seed=1) > 0
    assert check_lanes(NativeLanes, plan, lanes=3, ticks=1000, seed=2) > 0


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("robot", ROBOTS)
def test_a_million_ticks_like_the_core(robot: str) -> None:
    """A quarter of a million random and adversarial ticks for each of the example robots."""
    assert check_lowering(one_tick, plan_of_robot(robot), ticks=250_000, seed=3) > 0


def test_a_wrong_library_is_caught_and_the_signal_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """The C with one rounding constant changed fails the check, so the check looks at the C."""
    monkeypatch.setattr(native, "native_source", lambda graph: native_source(graph).replace("8192", "9192"))
    with pytest.raises(AssertionError, match=r"^signal [\w.]+ \(.+\) differs first, at tick"):
        check_lowering(one_tick, plan_of_robot("tank_pair"), ticks=3000, seed=1)


@pytest.mark.parametrize("robot", cases(OTHERS, SOME))
def test_every_robot_runs_like_the_core(robot: str) -> None:
    """All signals of each tick and the state at the end, from one call for all ticks."""
    plan = plan_of_robot(robot)
    rows = random_rows(plan, 5, 2000)
    engine = NativeEngine(plan)
    signals = engine.run(np.array(rows, np.int32))
    core = list(run_core(plan, rows))
    assert signals.dtype == np.int32
    assert np.array_equal(signals, np.array([after.signals for after in core]))
    assert engine.state == tuple(core[-1].state)


@pytest.mark.no_cover
@pytest.mark.parametrize("seed", cases((2,), (0, 1, 3, 4)))
def test_random_plans_run_like_the_core_one_by_one_and_in_lanes(seed: int) -> None:
    """One board, and as many as do not fill the last vector, each on inputs of its own."""
    plan = random_plan(random.Random(seed), FULL_SIZE if seed == 0 else None)
    rows = random_rows(plan, seed, 400)
    count = WIDTH + 3
    traces = [np.roll(np.array(rows, np.int32), shift * 41, axis=0) for shift in range(count)]
    lanes = NativeLanes(plan, count)
    together = lanes.run(np.stack(traces, axis=2))
    states = lanes.state
    for number, trace in enumerate(traces):
        core = list(run_core(plan, [tuple(row) for row in trace.tolist()]))
        wanted = np.array([after.signals for after in core])
        if number == 0:
            assert np.array_equal(NativeEngine(plan).run(trace), wanted)
        assert np.array_equal(together[:, :, number], wanted)
        assert states[:, number].tolist() == core[-1].state


def test_step_run_and_reset_tell_one_story() -> None:
    """Ticks one by one, in two runs or in one give the same; reset goes back, or to a given state."""
    plan = plan_of_robot("sample_carrier")
    rows = np.array(random_rows(plan, 1, 400), np.int32)
    engine = make_engine("native", plan)
    whole = engine.run(rows)
    engine.reset()
    assert engine.state == layout_of(plan).start
    first = engine.run(rows[:150])
    middle = engine.state
    rest = [list(engine.step(row)) for row in rows[150:].tolist()]
    assert np.array_equal(np.vstack([first, np.array(rest)]), whole)
    engine.reset(middle)
    assert np.array_equal(engine.run(rows[150:]), whole[150:])
    assert engine.run(rows[:0]).shape == (0, len(engine.layout.signals))


def test_lanes_give_only_what_was_asked_for() -> None:
    """Chosen signals come in the order of the layout, and are the same as among all."""
    plan = plan_of_robot("sample_carrier")
    rows = np.array(random_rows(plan, 2, 200), np.int32)[:, :, None].repeat(2, axis=2)
    chosen = NativeLanes(plan, 2, wire_signals(plan))
    assert chosen.names == wire_signals(plan)
    places = [layout_of(plan).index(name) for name in chosen.names]
    everything = NativeLanes(plan, 2).run(rows)
    assert np.array_equal(chosen.run(rows), everything[:, places])
    chosen.reset()
    assert np.array_equal(np.stack([chosen.step(row).copy() for row in rows]), everything[:, places])


def test_wrong_shapes_and_counts_are_refused() -> None:
    """Nothing of a wrong shape ever reaches the C."""
    plan = plan_of_robot("tank_pair")
    engine, lanes = NativeEngine(plan), NativeLanes(plan, 2)
    with pytest.raises(ValueError, match="inputs of shape"):
        engine.run(np.zeros((3, 99), np.int32))
    with pytest.raises(ValueError, match="a state of 1 numbers"):
        engine.reset([0])
    with pytest.raises(ValueError, match="inputs of shape"):
        lanes.run(np.zeros((3, len(layout_of(plan).inputs), 3), np.int32))
    with pytest.raises(ValueError, match="at least 1"):
        NativeLanes(plan, 0)


def test_a_library_is_built_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second engine of a plan calls no compiler; other flags make another library."""
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path))
    source = "int answer(void); int answer(void) { return 42; }"
    assert native_build.load(source).answer() == 42
    assert len(list(tmp_path.iterdir())) == 1
    with monkeypatch.context() as patched:
        patched.setattr(subprocess, "run", lambda *_args, **_kwargs: pytest.fail("compiled again"))
        assert native_build.load(source).answer() == 42
    native_build.load(source, (*native_build.FLAGS, "-O1"))
    assert len(list(tmp_path.iterdir())) == 2


def test_a_compiler_that_fails_is_told_with_a_way_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the compiler said comes through, and nothing half-built stays behind."""
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path))
    with pytest.raises(MissingToolError, match=r"cannot build the native engine: .*error") as caught:
        native_build.load("this is no C")
    assert "STICKWRIGHT_CC" in caught.value.remedy
    assert list(tmp_path.iterdir()) == []


def test_a_cache_that_cannot_be_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file stands where the folder should be: no traceback, but what to set."""
    (tmp_path / "taken").write_text("")
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path / "taken"))
    with pytest.raises(MissingToolError, match="cannot be kept in") as caught:
        NativeEngine(plan_of_robot("tank_pair"))
    assert "STICKWRIGHT_CACHE" in caught.value.remedy


def test_a_cache_that_others_can_write_is_never_loaded_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies there would run in this program: refused, with what to do."""
    open_to_all = tmp_path / "shared"
    open_to_all.mkdir()
    open_to_all.chmod(0o777)
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(open_to_all))
    with pytest.raises(MissingToolError, match="can be written by others") as raised:
        NativeEngine(plan_of_robot("tank_pair"))
    assert "chmod go-w" in raised.value.remedy
    assert not list(open_to_all.iterdir())


def test_a_torn_library_is_built_once_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A crash or a full disk may leave half of one; it costs a second, not the replay."""
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path / "own"))
    plan = plan_of_robot("tank_pair")
    rows = np.array(random_rows(plan, 3, 50), np.int32)
    whole = NativeEngine(plan).run(rows)
    (kept,) = (tmp_path / "own").glob("*.so")
    torn = tmp_path / "torn"
    torn.mkdir(mode=0o700)
    (torn / kept.name).write_bytes(kept.read_bytes()[:100])
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(torn))
    assert np.array_equal(NativeEngine(plan).run(rows), whole)


def test_only_the_newest_libraries_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An evening of tuning does not fill a disk."""
    monkeypatch.setenv("STICKWRIGHT_CACHE", str(tmp_path))
    tmp_path.chmod(0o700)
    for number in range(MOST_KEPT + 5):
        (tmp_path / f"old{number}.so").write_bytes(b"")
        os.utime(tmp_path / f"old{number}.so", (number, number))
    NativeEngine(plan_of_robot("tank_pair"))
    left = {path.name for path in tmp_path.glob("*.so")}
    assert len(left) == MOST_KEPT
    assert "old5.so" not in left
    assert "old6.so" in left


def test_the_quickest_engine_is_native_and_says_why_it_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a compiler native, without one generated Python; the same bits."""
    plan = plan_of_robot("tank_pair")
    rows = np.array(random_rows(plan, 4, 100), np.int32)
    native = quickest_engine(plan)
    assert (native.name, native.why) == ("native", "")
    monkeypatch.setenv("STICKWRIGHT_CC", str(tmp_path / "none"))
    python = quickest_engine(plan)
    assert python.name == "python"
    assert "is not a program here" in python.why
    assert np.array_equal(native.engine.run(rows), python.engine.run(rows))
