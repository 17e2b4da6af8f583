"""What concerns a robot: which ways its outputs can go, and when a rule has something to say."""

from dataclasses import replace

import pytest

from mixer.core.plan import Plan
from mixer.failsafe.proof.hunt import reaching_runs
from mixer.laws.rules import rules_of
from mixer.laws.ways import ways_of
from mixer.live.judge.watched import watched_graph
from tests.failsafe.wrong_cores import RICH
from tests.plans import rig

RIG = rig()


def one_sided(plan: Plan) -> Plan:
    """The same with sticks that drive one way only."""
    sticks = tuple(replace(stick, low_span_us=0, low_gain=0, trim=0) for stick in plan.sticks)
    return replace(plan, sticks=sticks, flip=None)


def test_a_stick_with_one_side_drives_one_way() -> None:
    """Forward with a positive weight and in reverse with a negative one; both ways with a whole stick."""
    assert all(forward and reverse for forward, reverse in ways_of(RIG))
    for output, ways in zip(RIG.outputs, ways_of(one_sided(RIG)), strict=True):
        pushing = [weight * (-1 if stick.reverse else 1)
                   for weight, stick in zip(output.weights, RIG.sticks, strict=False)]  # fmt: skip
        assert ways.forward == any(weight > 0 for weight in pushing)
        assert ways.reverse == any(weight < 0 for weight in pushing)


def test_what_drives_one_way_is_not_asked_to_rest_before_reversing() -> None:
    """Nor does an arm switch in the mix drive the other way: live, it stands where it arms."""
    assert "rest-before-reversing" in {rule.key for rule in rules_of(RICH)}
    plan = one_sided(replace(RIG, actuators=()))
    output = replace(plan.outputs[0], pause_ticks=5, weights=tuple(map(abs, plan.outputs[0].weights)))
    sticks = tuple(replace(stick, reverse=False) for stick in plan.sticks)
    plan = replace(plan, outputs=(output,), sticks=sticks, groups=())
    assert "rest-before-reversing" not in {rule.key for rule in rules_of(plan)}


@pytest.mark.parametrize("lost", [1, 3])
def test_a_robot_that_bridges_nothing_is_told_about_all_the_same(lost: int) -> None:
    """Lost in the very tick that brings no pulse, it reaches every premise that any robot reaches."""
    plan = replace(RIG, guard=replace(RIG.guard, lost_ticks=lost))
    watched = watched_graph(plan)
    assert {"bridging-ends", "readings-true", "stops-on-loss"} <= set(reaching_runs(watched))
