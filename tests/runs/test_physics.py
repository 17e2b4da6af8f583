"""Firmware and physics in one loop."""

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from mixer.core.layout import layout_of
from mixer.errors import OptionError
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import LiveRobot, build_of, with_physics
from mixer.plant.parts.robot import Robot
from mixer.profile.profile import load_profile, parse_profile
from mixer.profile.starter import starter_profile
from mixer.runs.log.read import open_log
from mixer.runs.measure.physics import PhysicsMeasures, PhysicsSummary, plant_columns
from mixer.runs.measure.plot import Sampled, check_drawing, drawing
from mixer.runs.play.feed import feed
from mixer.runs.play.stretch import Stretch

LOG = Path("profiles/logs/carrier_two_loads.csv")
CARRIER = load_profile(Path("profiles/sample_carrier.toml"))
SECONDS = 52


class Kept:
    """A sink that keeps everything."""

    def __init__(self) -> None:
        self.stretches: list[Stretch] = []

    def add(self, stretch: Stretch) -> None:
        """Keep it."""
        self.stretches.append(stretch)


class Driven(NamedTuple):
    """A drive and what its sinks found."""

    robot: Robot
    tick_s: float
    summary: PhysicsSummary
    sampled: Sampled
    signals: np.ndarray
    plant: np.ndarray


@pytest.fixture(scope="module")
def driven() -> Driven:
    """The first 52 s of a drive in which the tray is tipped all the way."""
    build = with_physics(build_of(CARRIER))
    live = LiveRobot(build, PlainBoard(build.plan, "python"))
    robot = build.prepared.robot
    assert robot is not None
    measures, sampled, kept = PhysicsMeasures(robot, 2), Sampled(build.plan, robot), Kept()
    for sink in (measures, sampled, kept):
        live.add(sink)
    rows = (row for row in open_log(LOG, build.plan).rows() if row.t_us < SECONDS * 1_000_000)
    for chunk in feed(rows, build.plan):
        live.take(chunk.inputs)
    signals = np.concatenate([stretch.signals for stretch in kept.stretches])
    plant = np.concatenate([stretch.plant for stretch in kept.stretches if stretch.plant is not None])
    return Driven(robot, build.plan.tick_ms / 1000, measures.summary(), sampled, signals, plant)


def test_end_stops_come_back_from_the_plant(driven: Driven) -> None:
    """The tray stops by its own end-stop switch: the command goes to 0 while the stick still pushes."""
    layout, signals = layout_of(CARRIER.plan()), driven.signals
    closed = signals[:, layout.index("contact.left_out.closed")] > 0
    assert closed.any()
    wanted = signals[:, layout.index("output.tray_left.wanted")]
    command = signals[:, layout.index("output.tray_left.command")]
    held = closed & (wanted > 0)
    assert held.any()
    assert (command[held] <= 0).all()

    extension = driven.plant[:, plant_columns(driven.robot).index("actuator.tray_left.extension")]
    travel_mm = CARRIER.robot().actuator["tray_left"].travel_mm
    assert extension.max() * 1000 == pytest.approx(travel_mm, rel=0.05)


def test_energy_books_close(driven: Driven) -> None:
    """First law of thermodynamics: what the battery gave is found again within 1 %."""
    assert driven.summary.energy_j["battery"] > 100
    assert driven.summary.unbalanced < 0.01


def test_summary_agrees_with_the_columns(driven: Driven) -> None:
    """The summed-up numbers are those of the ticks."""
    columns, plant, summary = plant_columns(driven.robot), driven.plant, driven.summary
    assert summary.peak_a == pytest.approx(plant[:, columns.index("battery_first_a")].max())
    assert summary.lowest_v == pytest.approx(plant[:, columns.index("lowest_v")].min())
    charge_as = plant[:, columns.index("battery_a")].sum() * driven.tick_s
    assert summary.charge_ah == pytest.approx(charge_as / 3600)


def test_summary_agrees_with_sums_over_snapshots() -> None:
    """Fed tick by tick with the plant's snapshots, plain sums find the same."""
    build = with_physics(build_of(CARRIER))
    robot = build.prepared.robot
    assert robot is not None
    live, found = LiveRobot(build), PhysicsMeasures(robot, 2)
    live.add(found)
    rng = np.random.default_rng(3)
    live.arm()
    sliding, peaks, hottest = 0.0, [0.0] * len(robot.outputs), -math.inf
    for _ in range(600):
        row = np.array([[*rng.integers(1000, 2000, 3), 1900, 1500, 1, 1, 1, 1]], np.int32)
        live.take(row)
        assert live.body.plant is not None
        seen = live.body.plant.snapshot()
        sliding += 0.002 if any(abs(slip) > 0.05 for slip in seen.wheel_slip_mps) else 0.0
        peaks = [max(pair) for pair in zip(peaks, seen.output_peak_a, strict=True)]
        hottest = max(hottest, *(warm for warm in seen.winding_c if warm is not None))
    summary = found.summary()
    assert summary.slipping_s == pytest.approx(sliding)
    assert [output.peak_a for output in summary.outputs] == pytest.approx(peaks)
    assert summary.hottest is not None
    assert summary.hottest[1] == pytest.approx(hottest)


def test_a_drawing_is_the_same_twice(driven: Driven) -> None:
    """The same drive gives the same SVG, byte for byte, with a panel for the actuators."""
    assert drawing(driven.sampled, "a drive") == drawing(driven.sampled, "a drive")
    with pytest.raises(OptionError, match=r"^--plot .* is no SVG"):
        check_drawing(Path("a.png"))


def test_a_robot_without_physical_data_says_what_lacks() -> None:
    """No battery, no physics, and the reason in words."""
    profile = parse_profile(starter_profile("bare"), "bare.toml")
    with pytest.raises(OptionError, match=r"^no physics for this robot: .*battery"):
        with_physics(build_of(profile))
