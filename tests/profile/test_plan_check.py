"""The checker of plans: silent on every valid plan, and it names each promise that is broken."""

import random
from dataclasses import replace
from typing import Any

import pytest

from mixer.core.ops import ONE
from mixer.core.plan import GroupPlan, OverRange, Plan, SwitchPosition
from mixer.errors import InternalError
from mixer.profile.checks.plan import broken_promises, check_plan
from mixer.profile.profile import load_profile
from tests.profile.test_examples import FOLDER
from tests.random_plans import random_plan


def crawler() -> Plan:
    """A plan that has every kind of part but actuators."""
    return load_profile(FOLDER / "long_crawler.toml").plan()


def carrier() -> Plan:
    """A plan with actuators and a chooser."""
    return load_profile(FOLDER / "sample_carrier.toml").plan()


def changed(plan: Plan, things: str, number: int = 0, **fields: Any) -> Plan:  # noqa: ANN401
    """The plan with some fields of one of its things changed."""
    items = list(getattr(plan, things))
    items[number] = replace(items[number], **fields)
    return replace(plan, **{things: tuple(items)})


def shaped(plan: Plan, **fields: Any) -> Plan:  # noqa: ANN401
    """The plan with its first stick's first shape changed."""
    shapes = plan.sticks[0].shapes
    return changed(plan, "sticks", shapes=(replace(shapes[0], **fields), *shapes[1:]))


BROKEN = {
    "1 to 16 channels": replace(crawler(), channels=()),
    "1 to 24 outputs": replace(crawler(), outputs=()),
    "at most 8 actuators": replace(carrier(), actuators=carrier().actuators * 5),
    "tick_ms >= 1": replace(crawler(), tick_ms=0),
    "names occur once": changed(crawler(), "outputs", name="left_middle"),
    "a channel is one stick or one switch": changed(crawler(), "sticks", channel=1),
    "channels that are read exist": changed(crawler(), "sticks", channel=9),
    "mixed switches exist": replace(crawler(), mixed_switches=(5,)),
    "good_low_us < good_high_us": changed(crawler(), "channels", good_low_us=2300),
    "rest_us is a good pulse": changed(crawler(), "channels", rest_us=500),
    "spans >= 0 and not both 0": changed(
        crawler(), "sticks", low_span_us=0, high_span_us=0, low_gain=0, high_gain=0
    ),
    "gain is round(ONE²/span)": changed(crawler(), "sticks", low_gain=7),
    "|trim| <= ONE/2": changed(crawler(), "sticks", trim=ONE),
    "one shape without a chooser": changed(crawler(), "sticks", shapes=()),
    "chooser exists": changed(carrier(), "sticks", chooser=4),
    "a shape for each position": changed(carrier(), "sticks", chooser=0),
    "0 <= band < ONE": shaped(crawler(), band=-1),
    "gain is round(ONE²/(ONE - band))": shaped(crawler(), gain=3),
    "-ONE/2 <= expo <= ONE": shaped(crawler(), expo=-ONE),
    "0 < rate <= ONE": shaped(crawler(), rate=0),
    "one or two rising edges": changed(carrier(), "switches", 1, edges_us=(1750, 1250)),
    "a name for each position": changed(carrier(), "switches", 1, position_names=("a", "b")),
    "hysteresis_us >= 0": changed(carrier(), "switches", hysteresis_us=-1),
    "hysteresis bands do not meet": changed(carrier(), "switches", 1, hysteresis_us=250),
    "closed_reads is 0 or 1": changed(carrier(), "contacts", closed_reads=2),
    "release_ticks >= 0": changed(carrier(), "contacts", release_ticks=-1),
    "flip: contact exists": replace(crawler(), flip=replace(crawler().flip, told_by=3)),  # type: ignore[type-var]
    "flip: settle_ticks >= 1": replace(crawler(), flip=replace(crawler().flip, settle_ticks=0)),  # type: ignore[type-var]
    "a weight for each source": changed(crawler(), "outputs", weights=(1,)),
    "weights within ±2 ONE": changed(crawler(), "outputs", weights=(3 * ONE, 0)),
    "weights sum to 4 ONE at most": changed(crawler(), "outputs", weights=(2 * ONE + 1, 2 * ONE)),
    "0 < gain <= 2 ONE": changed(crawler(), "outputs", gain=0),
    "0 < limit <= ONE": changed(crawler(), "outputs", limit=ONE + 1),
    "0 <= breakaway < ONE": changed(crawler(), "outputs", breakaway=ONE),
    "1 <= step <= ONE": changed(crawler(), "outputs", down_step=0),
    "pause_ticks >= 0": changed(crawler(), "outputs", pause_ticks=-1),
    "spans are 0 to 16383": changed(carrier(), "outputs", high_span=16384),
    "rest is 0 on a duty wire": changed(carrier(), "outputs", rest=5),
    "only a duty wire brakes": changed(crawler(), "outputs", brake=True),
    "groups are disjoint": replace(crawler(), groups=crawler().groups * 2),
    "grouped outputs exist": changed(crawler(), "groups", outputs=(0, 9)),
    "yielding names a source, or none": replace(
        crawler(), groups=(GroupPlan("tracks", (0,), OverRange.CLIP, 0),)
    ),
    "output exists": changed(carrier(), "actuators", output=6),
    "stops exist": changed(carrier(), "actuators", out_stop=4),
    "both_ticks >= 1": changed(carrier(), "actuators", both_ticks=0),
    "0 < travel_limit < 2**30": changed(carrier(), "actuators", travel_limit=2**30),
    "guard: lost_ticks >= 1": replace(carrier(), guard=replace(carrier().guard, lost_ticks=0)),
    "guard: hold_ticks >= 1": replace(carrier(), guard=replace(carrier().guard, hold_ticks=0)),
    "guard: 0 <= neutral_within < ONE": replace(
        carrier(), guard=replace(carrier().guard, neutral_within=-1)
    ),
    "guard: arm: switch exists": replace(
        carrier(), guard=replace(carrier().guard, arm=SwitchPosition(2, 0))
    ),
    "guard: arm: position exists": replace(
        carrier(), guard=replace(carrier().guard, arm=SwitchPosition(0, 2))
    ),
}


@pytest.mark.parametrize("promise", BROKEN)
def test_each_broken_promise_is_named(promise: str) -> None:
    """A plan that breaks one promise is told which, as a bug of ours."""
    assert any(promise in said for said in broken_promises(BROKEN[promise]))
    with pytest.raises(InternalError, match="breaks its own rules"):
        check_plan(BROKEN[promise])


@pytest.mark.parametrize("seed", range(60))
def test_random_plans_keep_every_promise(seed: int) -> None:
    """Plans drawn for the core's own tests pass, so checker and generator agree on what a plan is."""
    check_plan(random_plan(random.Random(seed)))
