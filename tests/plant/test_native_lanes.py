"""Many lanes of the plant in C: the numbers of numpy, whatever robot and whatever is broken of it."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from mixer.faults.catalogue import catalogue
from mixer.live.robot.robot import build_of
from mixer.plant.parts.damage import harmed
from mixer.plant.parts.robot import Robot
from mixer.plant.plant import LanePlant, lane_function
from mixer.plant.step.layout import plant_layout_of
from mixer.plant.step.lowering import compile_step
from mixer.plant.step.native_lanes import BLOCK, in_c, native_lanes_step
from mixer.plant.step.trace import Trace
from mixer.profile.profile import load_profile

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
SPEEDS = ("vx", "vy")
pytestmark = pytest.mark.needs_tool("gcc")


def _bodies(path: Path) -> Sequence[Robot]:
    """The robot as it is, and with each harm that changes its body, the first of a kind."""
    build = build_of(load_profile(path))
    body = build.prepared.robot
    assert body is not None
    first = {fault.kind: fault for fault in catalogue(build.plan) if fault.damage}
    return tuple(dict.fromkeys([body, *(harmed(body, fault.damage) for fault in first.values())]))


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_step_gives_the_numbers_of_numpy(path: Path) -> None:
    """From states of both precisions, in blocks that are full and one that is not, to the last bit."""
    rng, lanes = np.random.default_rng(3), 2 * BLOCK + 5
    bodies = _bodies(path)
    assert len(bodies) > 1
    for robot in bodies:
        layout = plant_layout_of(robot)
        state = [(value + rng.normal(0, 0.5, lanes)).astype(np.float32) for value in layout.start]
        duties = [rng.uniform(-1, 1, lanes).astype(np.float32) for _ in robot.outputs]
        plain, places = lane_function(robot, 0.002, SPEEDS)
        native, _ = lane_function(robot, 0.002, SPEEDS, native=True)
        assert native.__name__ != plain.__name__ or native.__module__ != plain.__module__
        for _ in range(3):
            told, expected = native(state, duties), plain(state, duties)
            for one, other in zip(told, expected, strict=True):
                assert np.asarray(one).dtype == np.asarray(other).dtype
                assert np.array_equal(one, other, equal_nan=True)
            for place, row in zip(places, expected, strict=True):
                if place < len(state):
                    state[place] = row if np.ndim(row) else np.full(lanes, row, np.float32)


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_drive_gives_the_speeds_of_numpy(path: Path) -> None:
    """Lanes that rest, wake, and go on with a broken body, over many steps."""
    robot, *broken = _bodies(path)
    rng, lanes = np.random.default_rng(5), 70
    plants = [LanePlant(robot, lanes, wanted=SPEEDS, native=native) for native in (False, True)]
    for number in range(40):
        duties = [np.where(rng.random(lanes) < 0.3, 0.0, rng.uniform(-1, 1, lanes)) for _ in robot.outputs]
        for plant in plants:
            if number == 20:
                plant.become(broken[0], np.arange(lanes) % 2 == 0)
            plant.run_duties(duties if number % 10 < 5 else [0.0] * len(duties), 0.01)
        for name in SPEEDS:
            assert np.array_equal(plants[0].value(name), plants[1].value(name))
    assert plants[1].value("vx").any()


def test_every_operation_means_what_it_means_in_numpy() -> None:
    """Numbers on either side, flags, choices between numbers, a table, results that are numbers."""
    trace = Trace()
    s, d = trace.inputs("s", 2), trace.inputs("d", 1)
    either = (s[0] > 0.5) | (s[1] >= 0.1)
    results = [
        trace.select(either & (d[0] < s[1]), 1.5, s[0]),
        trace.select(s[0] <= d[0], s[1], -0.25),
        trace.select(either, 1.0, 0.0) * s[1],
        trace.clamp(s[0] - d[0], -s[1], 0.3),
        trace.sqrt(abs(s[0])) / (1.1 + abs(d[0])),
        trace.along(((0.0, 1.0), (0.4, 3.3), (1.0, 2.0)), s[0]) - 1 / (2.0 + s[1]),
        2.5,
        -s[0] + 0.1,
    ]
    assert in_c(trace, results)
    rng = np.random.default_rng(8)
    for kinds in (np.float32, np.float64):
        state = [rng.uniform(-1, 1, 100).astype(kinds), rng.uniform(0, 1, 100).astype(np.float32)]
        duties = [rng.uniform(-1, 1, 100).astype(np.float32)]
        expected = compile_step(trace, results, arrays=True)(state, duties)
        for one, other in zip(native_lanes_step(trace, results)(state, duties), expected, strict=True):
            assert np.asarray(one).dtype == np.asarray(other).dtype
            assert np.array_equal(one, other)


def test_what_numpy_may_round_otherwise_stays_with_numpy() -> None:
    """A sine, and a table that is read by something worked out before."""
    trace = Trace()
    (x,) = trace.inputs("s", 1)
    assert in_c(trace, [x * 2.0])
    assert not in_c(trace, [trace.sine(x) + 1.0])
    assert not in_c(trace, [trace.along(((0.0, 1.0), (1.0, 2.0)), x * 2.0)])
