"""Firmware and physics in one loop."""

from pathlib import Path
from typing import TypeAlias

import numpy as np
import pytest

from mixer.errors import OptionError
from mixer.plant.from_profile import prepare
from mixer.profile import load_profile, parse_profile, starter_profile
from mixer.runs.log.read import open_log
from mixer.runs.measure.physics import PhysicsReplay, plant_columns
from mixer.runs.measure.plot import Sampled, check_drawing, drawing
from mixer.runs.play.closed_loop import ClosedLoop, robot_in
from mixer.runs.play.engines import make_engine
from mixer.runs.play.feed import feed

LOG = Path("profiles/logs/carrier_two_loads.csv")
CARRIER = load_profile(Path("profiles/sample_carrier.toml"))
SECONDS = 52


Driven: TypeAlias = tuple[ClosedLoop, PhysicsReplay, Sampled, np.ndarray, np.ndarray]


@pytest.fixture(scope="module")
def driven() -> Driven:
    """The first 52 s of a drive in which the tray is tipped all the way."""
    plan = CARRIER.plan()
    loop = ClosedLoop(plan, robot_in(prepare(CARRIER.robot())), make_engine("python", plan))
    replay = PhysicsReplay(loop)
    sampled = Sampled(plan, loop.plant.robot, loop.engine)
    rows = open_log(LOG, plan).rows()
    short = (row for row in rows if row.t_us < SECONDS * 1_000_000)
    stretches = list(sampled.watched(replay.plays(feed(short, plan))))
    signals = np.concatenate([stretch.played.signals for stretch in stretches])
    return loop, replay, sampled, signals, np.concatenate([stretch.plant for stretch in stretches])


def test_end_stops_come_back_from_the_plant(driven: Driven) -> None:
    """The tray stops by its own end-stop switch: the command goes to 0 while the stick still pushes."""
    loop, _, _, signals, plant = driven
    layout = loop.engine.layout
    closed = signals[:, layout.index("contact.left_out.closed")] > 0
    assert closed.any()
    wanted = signals[:, layout.index("output.tray_left.wanted")]
    command = signals[:, layout.index("output.tray_left.command")]
    held = closed & (wanted > 0)
    assert held.any()
    assert (command[held] <= 0).all()

    extension = plant[:, plant_columns(loop.plant.robot).index("actuator.tray_left.extension")]
    travel_mm = CARRIER.robot().actuator["tray_left"].travel_mm
    assert extension.max() * 1000 == pytest.approx(travel_mm, rel=0.05)


def test_energy_books_close(driven: Driven) -> None:
    """First law of thermodynamics: what the battery gave is found again within 1 %."""
    _, replay, _, _, _ = driven
    summary = replay.summary()
    assert summary.energy_j["battery"] > 100
    assert summary.unbalanced < 0.01


def test_summary_agrees_with_the_columns(driven: Driven) -> None:
    """The summed-up numbers are those of the ticks."""
    loop, replay, _, _, plant = driven
    columns = plant_columns(loop.plant.robot)
    summary = replay.summary()
    assert summary.peak_a == pytest.approx(plant[:, columns.index("battery_a")].max())
    assert summary.lowest_v == pytest.approx(plant[:, columns.index("bus_v")].min())
    charge_as = plant[:, columns.index("battery_a")].sum() * loop.tick_s
    assert summary.charge_ah == pytest.approx(charge_as / 3600)


def test_a_drawing_is_the_same_twice(driven: Driven) -> None:
    """The same drive gives the same SVG, byte for byte, with a panel for the actuators."""
    _, _, sampled, _, _ = driven
    assert drawing(sampled, "a drive") == drawing(sampled, "a drive")
    with pytest.raises(OptionError, match=r"^--plot .* is no SVG"):
        check_drawing(Path("a.png"))


def test_a_robot_without_physical_data_says_what_lacks() -> None:
    """No battery, no physics, and the reason in words."""
    profile = parse_profile(starter_profile("bare"), "bare.toml")
    with pytest.raises(OptionError, match=r"^no physics for this robot: .*battery"):
        robot_in(prepare(profile.robot()))
