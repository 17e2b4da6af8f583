"""What a replay is said to have done, against counts made by hand and by slow plain Python."""

import json
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from mixer.cli.shared.console import as_data
from mixer.core.layout import layout_of
from mixer.core.ops import ONE, clamp
from mixer.core.plan import Guard
from mixer.runs.measure.guard import Loss, Transition
from mixer.runs.measure.measures import Summary
from mixer.runs.play.feed import Chunk
from mixer.runs.play.stretch import Stretch
from tests.plans import tipper_plan
from tests.runs.drives import HOLD, LOST, NEUTRAL_ON, armed_inputs, runs, seconds, stretches, summarise

DRIVE = (2000, 1500, 1500, 2000, 0, 0)
GONE = (0, 0, 0, 0, 0, 0)


def play(inputs: NDArray[np.int32], cuts: Sequence[int] = ()) -> list[Stretch]:
    """A replay of these inputs cut before the given ticks."""
    edges = [0, *sorted(set(cuts)), len(inputs)]
    chunks = [Chunk(a, inputs[a:b]) for a, b in pairwise(edges) if b > a]
    return stretches("direct", tipper_plan(), chunks)


def summary_of(*spans: tuple[int, tuple[int, ...]]) -> Summary:
    """The summary of arming and then these inputs."""
    return summarise(tipper_plan(), play(armed_inputs(*spans)))


@settings(max_examples=40)
@given(runs(), st.data())
def test_cutting_changes_nothing(inputs: NDArray[np.int32], data: st.DataObject) -> None:
    """However a run is cut into chunks, the summary is the same."""
    cuts = data.draw(st.lists(st.integers(1, len(inputs) - 1), max_size=8))
    plan = tipper_plan()

    assert summarise(plan, play(inputs, cuts)) == summarise(plan, play(inputs))


@settings(max_examples=40)
@given(runs())
def test_against_counting_tick_by_tick(inputs: NDArray[np.int32]) -> None:
    """Times and means equal what a loop over ticks, reading names one by one, counts."""
    plan = tipper_plan()
    played = play(inputs)[0]
    ticks = [dict(zip(layout_of(plan).signals, row, strict=True)) for row in played.signals.tolist()]
    live = [t for t in ticks if t["guard.state"] == Guard.LIVE]
    summary = summarise(plan, [played])

    for number, name in enumerate(("left", "right", "tray")):
        measure, at = summary.outputs[number], f"output.{name}."
        allowed = [
            clamp(t[at + "wanted"], t["actuator.tray.low"], t["actuator.tray.high"])
            if name == "tray"
            else t[at + "wanted"]
            for t in ticks
        ]
        held = [t[at + "command"] for t, a in zip(ticks, allowed, strict=True) if t[at + "command"] != a]
        assert measure.peak == max(abs(t[at + "command"]) for t in ticks) / ONE
        assert measure.mean == sum(t[at + "command"] for t in live) / (ONE * max(len(live), 1))
        assert measure.over_range_s == seconds(sum(t[at + "mixed"] != t[at + "blended"] for t in live))
        assert measure.slew_limited_s == seconds(sum(command != 0 for command in held))
        assert measure.reversal_rest_s == seconds(sum(command == 0 for command in held))
    for state in Guard:
        counted = sum(t["guard.state"] == state for t in ticks)
        assert summary.guard.seconds[state.name.lower()] == seconds(counted)
    starts = sum(a["guard.signal"] > b["guard.signal"] for a, b in pairwise(ticks))
    assert summary.guard.losses_total == starts
    assert summary.guard.transitions_total == len(summary.guard.transitions)


def test_cut_anywhere_in_a_story() -> None:
    """A loss whose channels change, and a veto, count once wherever a chunk ends within them."""
    out = (1500, 1500, 2000, 2000, 1, 0)
    spans = ((6, out), (LOST + 3, (0, 1500, 1500, 2000, 0, 0)), (3, (1500, 0, 1500, 2000, 0, 0)))
    tail = ((LOST + 3, (0, 0, 1500, 2000, 0, 0)), (5, (1500, 0, 1500, 2000, 0, 0)), (9, NEUTRAL_ON))
    inputs = armed_inputs(*spans, *tail)
    whole = summarise(tipper_plan(), play(inputs))

    assert (whole.actuators[0].vetoes, whole.guard.losses_total) == (1, 2)
    assert whole.guard.losses[1].channels == ("throttle", "steering")
    for cut in range(1, len(inputs)):
        assert summarise(tipper_plan(), play(inputs, [cut])) == whole


def test_guard_story() -> None:
    """Arming, a loss of two channels, and the way back, with their times."""
    half_gone = (0, 1500, 0, 2000, 0, 0)
    summary = summary_of((20, DRIVE), (LOST + 5, half_gone), (10, NEUTRAL_ON))
    live = seconds(HOLD)
    lost, found = (seconds(1 + HOLD + 20 + LOST - 1 + more) for more in (0, 6))

    assert summary.guard.transitions == (
        Transition(0.0, "searching", "resting"),
        Transition(live, "resting", "live"),
        Transition(lost, "live", "stopped"),
        Transition(found, "stopped", "resting"),
    )
    assert summary.guard.losses == (Loss(lost, seconds(6), ("throttle", "tip"), ended=True),)


def test_loss_at_the_end() -> None:
    """A log that ends without signal says so."""
    summary = summary_of((LOST + 4, GONE))

    assert [(loss.lasted_s, loss.ended, len(loss.channels)) for loss in summary.guard.losses] == [
        (0.01, False, 4)
    ]


def test_never_any_signal() -> None:
    """Searching is no loss."""
    summary = summarise(tipper_plan(), play(np.zeros((30, 6), dtype=np.int32)))

    assert summary.guard.losses == ()
    assert summary.guard.seconds["searching"] == 0.06
    assert summary.channels[0].frame_ms is None
    assert summary.channels[0].longest_gap_ms == 60


def test_saturation() -> None:
    """Full throttle and half turn: both wheels are scaled (over range), at full stick alone neither is."""
    turned = summary_of((10, (2000, 1750, 1500, 2000, 0, 0)))
    straight = summary_of((10, DRIVE))

    assert [turned.outputs[i].over_range_s for i in (0, 1)] == [0.02, 0.02]
    assert [straight.outputs[i].over_range_s for i in (0, 1)] == [0.0, 0.0]
    assert straight.outputs[0].at_full_s == straight.outputs[0].saturated_s == 0.02


def test_slew_and_reversal() -> None:
    """16384 in steps of 4000 is 4 ticks short of its target each way; the rest at zero lasts 3 ticks."""
    forward = summary_of((20, DRIVE)).outputs[0]
    both = summary_of((20, DRIVE), (30, (1000, 1500, 1500, 2000, 0, 0))).outputs[0]

    assert forward.slew_limited_s == seconds(4)
    assert forward.reversal_rest_s == 0
    assert both.slew_limited_s == seconds(4 + 4 + 4)
    assert both.reversal_rest_s == seconds(3)


def test_limit_and_veto() -> None:
    """The tray stands at its limit; a closed outer stop vetoes extending once, while it is wanted."""
    out = (1500, 1500, 2000, 2000, 0, 0)
    summary = summary_of(
        (10, out), (7, (1500, 1500, 2000, 2000, 1, 0)), (5, (1500, 1500, 1000, 2000, 1, 0))
    )
    tray, actuator = summary.outputs[2], summary.actuators[0]

    assert tray.at_limit_s == seconds(22)
    assert (actuator.vetoes, actuator.vetoed_s) == (1, seconds(7))
    assert (actuator.out_blocked_s, actuator.in_blocked_s) == (seconds(12), 0.0)


def test_channels() -> None:
    """Frame interval, gap, bad and missing pulses of a channel whose neighbours go on."""
    inputs = np.zeros((200, 6), dtype=np.int32)
    inputs[::10, :4] = (1500, 1500, 1500, 1000)
    inputs[[50, 60], 0] = 0
    inputs[100, 1] = 2500
    throttle, steering, tip, _ = summarise(tipper_plan(), play(inputs)).channels

    assert (throttle.pulses, throttle.missing_pulses, throttle.bad_pulses) == (18, 2, 0)
    assert (steering.pulses, steering.missing_pulses, steering.bad_pulses) == (19, 0, 1)
    assert (throttle.frame_ms, throttle.longest_gap_ms) == (20.0, 60.0)
    assert (tip.longest_gap_ms, tip.lost_s) == (20.0, 0.0)


def test_as_json() -> None:
    """The summary goes to JSON and back unchanged."""
    summary = summary_of((20, DRIVE), (LOST + 4, GONE))
    told = json.loads(json.dumps(as_data(summary)))

    assert told["guard"]["losses"][0]["ended"] is False
    assert told["outputs"][0]["peak"] == 1.0
