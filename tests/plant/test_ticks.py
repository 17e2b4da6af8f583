"""The coupled step in C against the generated Python."""

import numpy as np
import pytest

from mixer.errors import MissingToolError
from mixer.plant import ticks
from mixer.plant.parts.robot import Robot, flipped
from mixer.plant.ticks import TickPlant
from tests.plant.invented import many_motored, tank


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize(
    ("robot", "tick_s"),
    [(tank(), 0.005), pytest.param(many_motored(), 0.002, marks=pytest.mark.long)],
    ids=["tank", "many"],
)
def test_c_gives_the_numbers_of_python(
    monkeypatch: pytest.MonkeyPatch, robot: Robot, tick_s: float
) -> None:
    """State and observations of every tick are equal to the last bit, jumps of the current included."""
    held = np.random.default_rng(3).integers(-16384, 16385, (12, len(robot.outputs)))
    commands = np.repeat(held, 25, axis=0).astype(np.int32)

    def run() -> np.ndarray:
        plant = TickPlant(robot, tick_s)
        upright = plant.run(commands)
        plant.robot = flipped(robot)
        return np.concatenate([upright, plant.run(commands)])

    native = run()
    monkeypatch.setattr(ticks, "_native", lambda *_: None)
    assert np.array_equal(native, run())
    assert np.isfinite(native).all()
    assert np.ptp(native, axis=0).any()


def test_without_a_compiler_it_runs_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """No compiler is no reason to have no physics."""

    def missing(*_: object) -> None:
        raise MissingToolError("there is no C compiler", "install one")

    monkeypatch.setattr(ticks, "native_run", missing)
    ticks._native.cache_clear()
    out = TickPlant(tank(), 0.002).run(np.full((50, 2), 16384, np.int32))
    ticks._native.cache_clear()
    assert out[-1].any()
