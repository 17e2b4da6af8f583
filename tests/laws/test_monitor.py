"""The rules hold for the core, and each of them notices when it does not."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.laws.memory import memory_slots, start_memory
from mixer.laws.rules import RULES, rules_of
from tests.laws.monitor import Monitor
from tests.lengths import examples
from tests.plans import rig
from tests.strategies import Row, Trace, arming, attacked_plans, run_core

RIG = rig()
Signals = dict[str, int]


@pytest.mark.no_cover
@examples(40, 120)
@given(attacked_plans(ticks=80))
def test_no_rule_breaks_on_the_core(drawn: tuple[Plan, Trace]) -> None:
    """Over random robots and inputs of every kind, from power-up, the monitor has nothing to say."""
    plan, trace = drawn
    monitor = Monitor(plan)
    for row, after in zip(trace, run_core(plan, trace), strict=True):
        assert monitor.step(after.signals, row) == ()


@pytest.mark.no_cover
@examples(30, 120)
@given(attacked_plans(ticks=60))
def test_memory_stays_within_its_ranges(drawn: tuple[Plan, Trace]) -> None:
    """Every remembered number stays within the range its slot names."""
    plan, trace = drawn
    monitor = Monitor(plan)
    slots = memory_slots(plan)
    assert start_memory(plan) == tuple(slot.start for slot in slots)
    for row, after in zip(trace, run_core(plan, trace), strict=True):
        monitor.step(after.signals, row)
        for slot, value in zip(slots, monitor.memory, strict=True):
            assert slot.low <= value <= slot.high, slot.name


def live_rows(pushed: int = 1900) -> list[Row]:
    """Armed, then throttle pushed for a while."""
    armed = arming(RIG)
    row = list(armed[-1])
    for number in range(len(RIG.channels)):
        row[number] = max(r[number] for r in armed[-5:])
    row[0] = pushed
    return [*armed, *[tuple(row)] * 20]


def silent(rows: list[Row], ticks: int) -> list[Row]:
    """The same, and then no pulse at all."""
    gap = (0,) * len(RIG.channels) + rows[-1][len(RIG.channels) :]
    return rows + [gap] * ticks


def reading(rows: list[Row], contact: int, level: int, ticks: int) -> list[Row]:
    """The same, and then one contact at a level."""
    row = list(rows[-1])
    row[len(RIG.channels) + contact] = level
    return rows + [tuple(row)] * ticks


def off(rows: list[Row], ticks: int) -> list[Row]:
    """The same, and then the arm switch off."""
    row = list(rows[-1])
    row[2] = arming(RIG)[0][2]
    return rows + [tuple(row)] * ticks


def _output(name: str, value: int) -> Callable[[Signals], None]:
    def tamper(signals: Signals) -> None:
        signals[f"output.{name}.command"] = value
        signals[f"output.{name}.wire"] = (value > 0) - (value < 0)

    return tamper


def _signal(name: str, value: int) -> Callable[[Signals], None]:
    def tamper(signals: Signals) -> None:
        signals[name] = value

    return tamper


def back(rows: list[Row], ticks: int, pulse: int = 1100) -> list[Row]:
    """The same, and then the throttle elsewhere: at rest first, then at the pulse."""
    rest, pulled = list(rows[-1]), list(rows[-1])
    rest[0], pulled[0] = 1500, pulse
    return rows + [tuple(rest)] * 8 * (pulse != 1500) + [tuple(pulled)] * ticks


def noisy_off() -> list[Row]:
    """From power-up the arm switch on, with everything at neutral, and never seen off."""
    return [arming(RIG)[-1 - RIG.guard.hold_ticks // 2]] * 30


CLOSED = reading(live_rows(), 0, 1, 3)
CASES = {
    "stops-on-loss": (silent(live_rows(), 12), _output("lift", 50)),
    "one-bad-channel": (silent(live_rows(), 12), _output("lift", 50)),
    "bridging-ends": (silent(live_rows(), 12), _signal("guard.signal", 1)),
    "arming-first": (arming(RIG)[:4], _output("left", 10)),
    "no-self-start": (off(live_rows(), 6), _signal("guard.state", int(Guard.LIVE))),
    "disarming-stops": (off(live_rows(), 6), _output("left", 1)),
    "within-limits": (live_rows(), _output("lift", 14001)),
    "within-slew": (live_rows()[:-18], _output("left", 16000)),
    "rest-before-reversing": (live_rows(), _output("left", -1)),
    "closed-stop": (CLOSED, _output("lift", 1)),
    "other-way-free": (back(CLOSED, 1), _output("lift", 0)),
    "hand-arms": (noisy_off(), _signal("guard.state", int(Guard.LIVE))),
    "neutral-rests": (back(live_rows(), 2, 1500), _output("lift", 14000)),
    "asked-by-mix": (live_rows(), _signal("output.left.wanted", 1)),
    "heads-for-sticks": (live_rows()[:-18], _output("grip", 1)),
    "wire-carries": (live_rows(), _signal("output.right.wire", 200)),
    "flip-turns-round": (live_rows(), _signal("stick.throttle.command", -1)),
    "readings-true": (live_rows(), _signal("channel.turn.pulse", 1501)),
    "guard-true": (live_rows(), _signal("guard.neutral", 1)),
    "stops-true": (CLOSED, _signal("actuator.lift.low", 0)),
}


def _both_closed() -> list[Row]:
    row = list(live_rows()[-1])
    row[len(RIG.channels)], row[len(RIG.channels) + 1] = 1, 0
    return [*live_rows(), *[tuple(row)] * 6]


CASES["faults-latch"] = (_both_closed(), _output("left", 4))


@pytest.mark.parametrize("key", sorted(CASES))
def test_a_rule_notices_what_breaks_it(key: str) -> None:
    """Signals of a healthy run, falsified in its last tick, break the rule that is meant."""
    rows, tamper = CASES[key]
    monitor = Monitor(RIG)
    afters = list(run_core(RIG, list(rows)))
    for row, after in zip(rows[:-1], afters[:-1], strict=True):
        assert monitor.step(after.signals, row) == ()
    signals = dict(zip(layout_of(RIG).signals, afters[-1].signals, strict=True))
    tamper(signals)
    broken = monitor.step(list(signals.values()), rows[-1])
    assert key in {item.rule.key for item in broken}
    assert {item.tick for item in broken} == {len(rows) - 1}


def test_travel_is_watched() -> None:
    """Driven beyond the travel without meeting a stop, any further command that way breaks the rule."""
    rows = live_rows() + [live_rows()[-1]] * 120
    monitor = Monitor(RIG)
    afters = list(run_core(RIG, rows))
    for row, after in zip(rows, afters, strict=True):
        assert monitor.step(after.signals, row) == ()
    signals = dict(zip(layout_of(RIG).signals, afters[-1].signals, strict=True))
    assert signals["output.lift.command"] == 0
    _output("lift", 5)(signals)
    assert "travel-watched" in {item.rule.key for item in monitor.step(list(signals.values()), rows[-1])}


def test_every_rule_is_tried_above() -> None:
    """No rule goes without a test in which it breaks."""
    assert {rule.key for rule in RULES} == {*CASES, "travel-watched", "equal-rows"}


def test_outputs_with_equal_rows_do_the_same() -> None:
    """Of two outputs that share everything but their names, one that goes another way breaks the rule."""
    twin = replace(RIG.outputs[0], name="twin")
    plan = replace(RIG, outputs=(RIG.outputs[0], twin, *RIG.outputs[2:]))
    monitor, rows = Monitor(plan), live_rows()
    *earlier, last = run_core(plan, rows)
    for row, after in zip(rows[:-1], earlier, strict=True):
        assert monitor.step(after.signals, row) == ()
    signals = dict(zip(layout_of(plan).signals, last.signals, strict=True))
    _output("twin", 17)(signals)
    assert "equal-rows" in {item.rule.key for item in monitor.step(list(signals.values()), rows[-1])}


def test_rules_concern_what_the_plan_has() -> None:
    """A robot without actuators, slews and pauses is judged by fewer rules, and only by those."""
    outputs = [replace(output, up_step=ONE, down_step=ONE, pause_ticks=0) for output in RIG.outputs]
    plain = replace(RIG, actuators=(), outputs=tuple(outputs))
    keys = {rule.key for rule in rules_of(plain)}
    assert {rule.key for rule in RULES} - keys == {
        "equal-rows",
        "stops-true",
        "closed-stop",
        "other-way-free",
        "travel-watched",
        "faults-latch",
        "within-slew",
        "rest-before-reversing",
    }


def test_a_monitor_starts_anew_with_its_board() -> None:
    """After a reset the monitor expects everything at rest until armed again."""
    monitor = Monitor(RIG)
    rows = live_rows()
    afters = list(run_core(RIG, rows))
    for row, after in zip(rows, afters, strict=True):
        monitor.step(after.signals, row)
    monitor.reset()
    assert monitor.memory == start_memory(RIG)
    assert "arming-first" in {item.rule.key for item in monitor.step(afters[-1].signals, rows[-1])}
