"""The example robot's recorded drives: step length and energy at the length that replay uses."""

import math
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.plant.from_profile import prepare
from mixer.plant.plant import Plant
from mixer.profile.profile import load_profile
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import make_engine

PROFILES = Path(__file__).parents[2] / "profiles"
LOGS = ("carrier_two_loads.csv", "carrier_rough_ground.csv")
SECONDS = 10


def commands_of(name: str) -> list[list[int]]:
    """The first seconds of a log as output commands, one list a tick."""
    plan = load_profile(PROFILES / "sample_carrier.toml").plan()
    layout = layout_of(plan)
    places = [layout.index(f"output.{output.name}.command") for output in plan.outputs]
    ticks = SECONDS * 1000 // plan.tick_ms
    inputs = DriveLog(plan, PROFILES / "logs" / name).inputs()[:ticks]
    rows: list[list[int]] = make_engine("python", plan).run(inputs)[:, places].tolist()
    return rows


@pytest.mark.no_cover
@pytest.mark.long
@pytest.mark.parametrize("name", LOGS)
def test_two_milliseconds_and_energy(name: str) -> None:
    """2 ms against 0.1 ms: charge, heat, speed and place over the way within 1 %; energy too."""
    robot = prepare(load_profile(PROFILES / "sample_carrier.toml").robot()).robot
    assert robot is not None
    coarse, fine = Plant(robot), Plant(robot)
    way = top = furthest = speed_off = 0.0
    for commands in commands_of(name):
        coarse.run(commands, 0.002)
        for _ in range(20):
            fine.run(commands, 0.0001)
        way += abs(fine.value("vx")) * 0.002
        top = max(top, abs(fine.value("vx")))
        speed_off = max(speed_off, abs(coarse.value("vx") - fine.value("vx")))
        place = (coarse.value("x") - fine.value("x"), coarse.value("y") - fine.value("y"))
        furthest = max(furthest, math.hypot(*place))
    assert way > 3
    assert furthest < 0.01 * way
    assert speed_off < 0.01 * top
    assert 1 - coarse.value("charge") == pytest.approx(1 - fine.value("charge"), rel=0.01)
    for output in robot.outputs[:4]:
        key = f"output.{output.name}.winding_rise"
        assert coarse.value(key) == pytest.approx(fine.value(key), rel=0.01)
    account = coarse.energies()
    given_out = account.pop("battery")
    assert sum(account.values()) == pytest.approx(given_out, rel=0.01)
