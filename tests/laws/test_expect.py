"""What a plan promises: times that are kept and cannot be shortened."""

from mixer.core.late import starts_anew
from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.laws.expect import late_stops, loss_ms, loss_ticks, lost_ms, stop_ms, stop_ticks
from tests.plans import rig
from tests.strategies import arming, run_core


def ticks_to_rest(plan: Plan) -> int:
    """From the last pulse of a robot at full command to all outputs at zero."""
    rows = arming(plan)
    pushed = list(rows[-1])
    for number in range(len(plan.channels)):
        pushed[number] = max(row[number] for row in rows[-plan.guard.lost_ticks :])
    pushed[0] = 2000
    pushed[1] = 1000
    drive = [*rows, *[tuple(pushed)] * 60]
    gap = (0,) * len(plan.channels) + tuple(pushed[len(plan.channels) :])
    names = layout_of(plan).signals
    commands = [names.index(f"output.{output.name}.command") for output in plan.outputs]
    afters = run_core(plan, [*drive, *[gap] * (loss_ticks(plan) + 20)])
    moving = [any(after.signals[place] for place in commands) for after in afters]
    assert moving[len(drive) - 1]
    return len(moving) - moving[::-1].index(True) - len(drive) + 1


def test_a_cut_takes_the_promised_ticks_exactly() -> None:
    """Lost after 10 ticks of 10 ms: zero in the tick 100 ms after the one that read the last pulse."""
    plan = rig()
    assert (loss_ticks(plan), loss_ms(plan), lost_ms(plan)) == (10, 100, 100)
    assert (stop_ticks(plan), stop_ms(plan)) == (1, 0)
    assert ticks_to_rest(plan) == 10


def test_a_tick_is_late_where_ticks_were_missed() -> None:
    """One whole tick is enough, and less is none: firmware and watcher, each by its own text."""
    assert [starts_anew(late) for late in (0, 1, 2, 50)] == [False, True, True, True]
    assert [late_stops(late) for late in (0, 1, 2, 50)] == [False, True, True, True]


def test_a_ramp_adds_its_slowest_output() -> None:
    """From full in steps of a quarter: four ticks, the first of them the one that sees the loss."""
    plan = rig(ramps=True)
    assert stop_ticks(plan) == 4
    assert loss_ms(plan) == 130
    assert loss_ticks(plan) - 3 <= ticks_to_rest(plan) <= loss_ticks(plan)


def test_states_of_the_guard_are_those_the_rules_name() -> None:
    """The rules compare with LIVE and FAULTED; a state more or less has to be thought about there."""
    assert [state.name for state in Guard] == ["SEARCHING", "RESTING", "LIVE", "STOPPED", "FAULTED"]
