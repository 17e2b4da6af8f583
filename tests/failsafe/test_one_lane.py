"""A lane of the campaign is the live robot: the same scenario, set up in both, goes the same way."""

import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.rest import FRAME_MS
from mixer.failsafe.campaign.layers import Batch
from mixer.failsafe.campaign.points import Points, Timing, clean_level, points_for
from mixer.failsafe.campaign.run import Request, setting_of
from mixer.failsafe.campaign.scene import Scene, Setting
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.robot import Build, LiveRobot
from mixer.live.robot.travel import travel_times
from mixer.plant.from_profile import prepare
from mixer.profile.profile import load_profile
from mixer.profile.schema.root import Robot
from tests.lengths import cases
from tests.plans import lift_plan, rig
from tests.random_plans import SMALL_SIZE, random_plan

BARE = load_profile(Path(__file__).parents[2] / "profiles" / "tank_pair.toml").robot(None)
PICKED = 2
"""Any of a plan's faults, and one each of these kinds: what moves, and whether the board runs."""
ALWAYS = ("jammed", "stuck-on", "motor-gone", "stalled", "out-of-step", "overrun", "reset-loop", "swapped")


class Operator:
    """The hands of one scenario, and what no actuator presses."""

    mode = "hand"

    def __init__(self, plan: Plan, points: Points, timing: Timing) -> None:
        self.plan, self.points, self.timing = plan, points, timing
        self.moved = {stop for item in plan.actuators for stop in (item.out_stop, item.in_stop)}

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """Pulses where a frame is due, then contacts."""
        pulses = [0] * len(self.plan.channels)
        if tick % self.timing.frame == 0:
            since = (tick - self.points.onset).astype(np.int32)
            pulses = clean_level(self.points, self.timing, since)[:, 0].tolist()
        still = self.points.contacts[:, 0].tolist()
        return pulses + [readings[n] if n in self.moved else still[n] for n in range(len(readings))]


def alone(setting: Setting, batch: Batch) -> tuple[LiveRobot, Operator, FaultBoard]:
    """A scenario's robot and operator, and what is going to break, not yet broken."""
    plan = setting.plan
    points = points_for(plan, batch.fault, setting.ways, setting.timing, setting.seed, batch.lanes)
    no_actuator = Robot.model_construct(**(dict(BARE) | {"actuator": {}}))
    robot = LiveRobot(Build(plan, no_actuator, replace(prepare(BARE), robot=None)))
    start = list(setting.ways[points.prefix[0]].state)
    for number, actuator in enumerate(plan.actuators):
        if actuator.travel_limit is not None:
            slots = setting.watched.slots
            way = layout_of(plan).slots.actuators[number].driven, slots.index(f"watch.way.{actuator.name}")
            for slot in way:
                start[slot] = int(points.way[number, 0])
    robot.board.restore(start)
    robot.body.positions = points.position[:, 0].tolist()
    robot.faults = board = FaultBoard(plan, FRAME_MS, int(points.seed[0]))
    return robot, Operator(plan, points, setting.timing), board


def faults_of(plan: Plan, rng: random.Random) -> list[Fault]:
    """Some of everything but power-up: the bench powers up for it, where a lane has just done so."""
    known = [fault for fault in catalogue(plan) if not fault.from_power_up and fault.key != "none"]
    kinds = [[fault for fault in known if fault.key.startswith(kind)] for kind in ALWAYS]
    return rng.sample(known, PICKED) + [rng.choice(faults) for faults in kinds if faults]


def plans() -> dict[str, Plan]:
    """Two made by hand, with end stops and flip, and a random one."""
    chance = {f"random {seed}": random_plan(random.Random(seed), SMALL_SIZE) for seed in (3,)}
    return {"rig": rig(), "lift": lift_plan()} | chance


@pytest.mark.no_cover
@pytest.mark.parametrize("name", cases(["rig", "lift"], ["random 3"]))
def test_a_scenario_goes_as_the_live_robot_goes(name: str) -> None:
    """Inputs, contacts, commands, travel and broken rules are the same in every tick of every lane."""
    plan, rng = plans()[name], random.Random(name)
    request = Request(plan, seconds=0.5, seed=rng.randrange(1000), travel_ms=travel_times(plan, BARE))
    setting = setting_of(request)
    lanes = [(fault, rng.randrange(48)) for fault in faults_of(plan, rng)]
    batches = [Batch(fault, range(lane, lane + 1)) for fault, lane in lanes]
    scene = Scene(setting, batches)
    robots = [alone(setting, batch) for batch in batches]
    places = [output.command for output in layout_of(plan).places.outputs]
    count = len(plan.channels)
    for tick in range(setting.timing.ticks):
        scene.advance(tick)
        for lane, (robot, operator, board) in enumerate(robots):
            if tick == scene.points.onset[lane]:
                board.inject(batches[lane].fault.key)
                board._active[batches[lane].fault.key].pushed = operator.points.pushed
            stretch = robot.play(operator, 1)
            where = f"{batches[lane].fault.key}, lane {batches[lane].lanes.start}, tick {tick}"
            first = count if scene.held_back[lane] else 0
            assert stretch.inputs[0, first:].tolist() == scene.inputs[first:, lane].tolist(), where
            assert stretch.signals[0, places].tolist() == scene.commands[:, lane].tolist(), where
            assert robot.body.positions == scene.position[:, lane].tolist(), where
            assert stretch.broken[0] == scene.broken[lane], where
