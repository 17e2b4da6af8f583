"""Two tunings on one log."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.runs.measure.compare import Comparison, Pair
from mixer.runs.play.feed import Chunk
from tests.plans import tipper_plan
from tests.runs.drives import HOLD, armed_inputs, seconds, stretches

FORWARD = (1750, 1500, 1500, 2000, 0, 0)
TURN = (1500, 1750, 1500, 2000, 0, 0)


def compared(a: Plan, b: Plan, inputs: NDArray[np.int32], cut: int = 10**6) -> Comparison:
    """Both plans on the same inputs, cut into chunks."""
    chunks = [Chunk(at, inputs[at : at + cut]) for at in range(0, len(inputs), cut)]
    pair = Pair(a, b)
    for ran_a, ran_b in zip(stretches("direct", a, chunks), stretches("direct", b, chunks), strict=True):
        pair.add(ran_a, ran_b)
    return pair.comparison()


def test_same_plan() -> None:
    """A plan does not differ from itself."""
    found = compared(tipper_plan(), tipper_plan("copy"), armed_inputs((30, TURN)))

    assert found.equal
    assert found.outputs[0].command.first_s is None
    assert found.guard.apart_s == 0


def test_half_the_steering() -> None:
    """With half the steering the wheels part when the turn begins, by a quarter of full at half stick."""
    inputs = armed_inputs((30, FORWARD), (20, TURN))
    found = compared(tipper_plan(), tipper_plan("calm", steer=ONE // 2), inputs)
    left, _, tray = found.outputs

    assert not found.equal
    assert left.command.largest == left.wire.largest / 500 == 0.25
    assert left.command.first_s == left.wire.first_s >= seconds(1 + HOLD + 30)
    assert 0.25 * 16 / len(inputs) < left.command.mean < 0.25 * 20 / len(inputs) * 1.01
    assert tray.command.apart_s == 0
    assert found == compared(tipper_plan(), tipper_plan("calm", steer=ONE // 2), inputs, cut=7)


def test_guards_part() -> None:
    """A longer hold time goes live later; the difference is exactly the extra ticks."""
    later = replace(tipper_plan(), guard=replace(tipper_plan().guard, hold_ticks=HOLD + 4))
    inputs = armed_inputs((20, (1500, 1500, 1500, 2000, 0, 0)))
    found = compared(tipper_plan(), later, inputs)

    assert found.guard.first_s == seconds(HOLD)
    assert found.guard.apart_s == found.guard.live_only_a_s == seconds(4)
    assert found.guard.live_only_b_s == 0


def test_outputs_of_one_robot_only() -> None:
    """Outputs without a counterpart are listed and make the robots differ."""
    plan = tipper_plan()
    fewer = replace(plan, outputs=plan.outputs[:2], actuators=())
    found = compared(plan, fewer, armed_inputs((5, FORWARD)))

    assert (found.only_a, found.only_b) == (("tray",), ())
    assert [output.name for output in found.outputs] == ["left", "right"]
    assert not found.equal
    assert found.equal is False


def test_other_tick() -> None:
    """Plans with different ticks are not compared."""
    other = replace(tipper_plan("quick"), tick_ms=1)
    with pytest.raises(
        OptionError, match=r"^small runs every 2 ms, quick every 1 ms\n    remedy: give both"
    ):
        Pair(tipper_plan(), other)
