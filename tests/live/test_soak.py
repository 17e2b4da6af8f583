"""Long drives by a restless driver, with the rules watched in every tick."""

import random
from pathlib import Path

import pytest

from mixer.core.ops import ONE
from mixer.live.bench.session import Session
from mixer.live.inputs.hands import resting_positions
from tests.lengths import cases
from tests.live.benches import Bench
from tests.live.test_session import stir

pytestmark = pytest.mark.no_cover


def arm_switch(session: Session, on: bool) -> None:
    """Put the arm switch on or off, where the robot has one; the others to where they rest."""
    resting = resting_positions(session.robot.plan)
    for switch in session.snapshot().switches:
        session.sticks.turn(switch.name, int(on) if switch.arms else resting[switch.name])


def soak(folder: Path, robot: str, seconds: float, seed: int) -> None:
    """Stir sticks, faults and values at random; no rule breaks, nothing grows, no time is lost."""
    bench = Bench(folder, robot)
    session, rng = bench.session, random.Random(seed)
    states = set()
    frames = round(seconds * 30)
    for number in range(frames):
        if number % 150 == 0:
            session.faults.clear_all()
            session.sticks.centre()
        if number % 150 in (0, 9):
            arm_switch(session, number % 150 == 9)
        if number % 150 < 35:
            states.add(bench.run(1 / 30).guard.state)
            continue
        if rng.random() < 0.1:
            stir(rng, session)
        if rng.random() < 0.02:
            session.faults.toggle(rng.choice([choice.key for choice in session.faults.choices]))
        if rng.random() < 0.03:
            session.faults.clear_all()
        if rng.random() < 0.01:
            knob = rng.choice([knob for knob in session.tuning.knobs if knob.kind != "whole"])
            value = rng.choice(knob.choices) if knob.choices else rng.uniform(knob.low, knob.reach)
            session.tuning.set(knob.key, rng.random() < 0.5 if knob.kind == "flag" else value)
        if rng.random() < 0.02:
            session.tuning.undo()
        snapshot = bench.run(1 / 30)
        states.add(snapshot.guard.state)
        assert all(abs(output.command) <= min(output.limit, ONE) for output in snapshot.outputs)
    assert bench.words("rule") == []
    assert "live" in states
    assert snapshot.cost.skipped_s == 0
    assert snapshot.time_s == pytest.approx(frames / 30, abs=0.0021)
    assert len(snapshot.trail) <= 400
    session.close()


@pytest.mark.parametrize("robot", cases(["long_crawler"], ["sample_carrier"]))
def test_five_seconds(tmp_path: Path, robot: str) -> None:
    """A short soak of the two larger robots."""
    soak(tmp_path, robot, 5.0, 1)


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("robot", ["sample_carrier", "tank_pair", "holonomic_trio", "long_crawler"])
def test_ten_minutes(tmp_path: Path, robot: str) -> None:
    """Ten simulated minutes of every example robot."""
    soak(tmp_path, robot, 600.0, 2)
