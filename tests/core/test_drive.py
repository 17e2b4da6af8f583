"""Drive: level, slew, reversal pause, veto, wire."""

from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixer.core import drive
from mixer.core.drive import OutputState
from mixer.core.ops import ONE
from mixer.core.plan import OutputPlan, Wire
from tests.plans import plain_output
from tests.strategies import commands

REST = OutputState(0, 0)
steps = st.integers(1, ONE)


def follow(plan: OutputPlan, wanted: list[int], before: OutputState = REST) -> list[int]:
    """The commands an output takes while these are wanted, nothing vetoed."""
    taken = []
    for command in wanted:
        before = drive.drive(plan, command, -ONE, ONE, False, before)
        taken.append(before.command)
    return taken


@pytest.mark.parametrize("jump", [0, 1, 500, 8192, 16383])
def test_breakaway_over_every_command(jump: int) -> None:
    """Zero stays zero, anything else starts at the jump, full stays full; odd and never turning back."""
    got = [drive.breakaway(x, jump) for x in range(-ONE, ONE + 1)]
    assert got == sorted(got)
    assert got == [-value for value in reversed(got)]
    assert (got[ONE], got[-1]) == (0, ONE)
    assert all(abs(value) >= jump for x, value in zip(range(-ONE, ONE + 1), got, strict=True) if x)
    for x in range(1, ONE + 1):
        assert abs(got[ONE + x] - (jump + x * (ONE - jump) / ONE)) <= 0.5


@given(commands, st.integers(1, 2 * ONE), st.integers(1, ONE), st.integers(0, ONE - 1))
def test_level_is_gain_then_breakaway_then_limit(x: int, gain: int, limit: int, jump: int) -> None:
    """Within the limit always, odd, and within 2 of the formula on real numbers."""
    plan = plain_output("motor", (), gain=gain, limit=limit, breakaway=jump)
    got = drive.level(plan, x).limited
    assert abs(got) <= limit
    assert drive.level(plan, -x) == tuple(-value for value in drive.level(plan, x))
    gained = max(-1.0, min(1.0, x * gain / ONE**2))
    sign = (gained > 0) - (gained < 0)
    exact = sign * (jump + abs(gained) * (ONE - jump))
    exact = max(-limit, min(limit, exact))
    if abs(gained) * ONE >= 0.5:  # below half a step the gain rounds to zero, where no jump is made
        assert abs(got - exact) <= 2


@given(st.lists(commands, min_size=1, max_size=60), st.integers(1, ONE - 1), steps)
@example([1, -1], ONE - 1, ONE)
def test_slew_never_faster_and_never_across_zero(wanted: list[int], up: int, down: int) -> None:
    """Away from zero by at most `up_step`, towards it by at most `down_step`, through zero never."""
    plan = plain_output("motor", (), up_step=up, down_step=down)
    before = 0
    for target, command in zip(wanted, follow(plan, wanted), strict=True):
        assert before * command >= 0
        assert abs(command) - abs(before) <= up
        assert abs(before) - abs(command) <= down
        assert min(before, target) <= command <= max(before, target)
        before = command


@given(commands, commands, st.integers(1, ONE - 1), steps)
def test_slew_arrives_as_soon_as_it_may(start: int, goal: int, up: int, down: int) -> None:
    """Down to zero in ceil(start/down) ticks, and from zero up in ceil(goal/up): no tick is lost."""
    plan = plain_output("motor", (), up_step=up, down_step=down)
    if start * goal < 0:
        needed = -(-abs(start) // down) + -(-abs(goal) // up)
    elif abs(goal) >= abs(start):
        needed = -(-(abs(goal) - abs(start)) // up)
    else:
        needed = -(-(abs(start) - abs(goal)) // down)
    if needed > 500:
        return
    taken = [start, *follow(plan, [goal] * needed, OutputState(start, 0))]
    assert taken.index(goal) == needed


@given(st.lists(st.sampled_from((-ONE, -1, 0, 1, ONE)), max_size=60), st.integers(1, 8))
def test_reversing_rests_for_the_pause(wanted: list[int], pause: int) -> None:
    """Between opposite directions lie at least `pause_ticks` at zero; the same direction needs none."""
    plan = plain_output("motor", (), pause_ticks=pause)
    last, rested = 0, pause
    for target, command in zip(wanted, follow(plan, wanted), strict=True):
        if command:
            assert command * last >= 0 or rested >= pause
            last, rested = command, 0
        else:
            rested += 1
            assert target * last <= 0
    assert follow(plan, [ONE] + [-ONE] * (pause + 1)) == [ONE] + [0] * pause + [-ONE]
    assert follow(plan, [ONE, 0, ONE]) == [ONE, 0, ONE]


def test_without_slew_an_output_follows_at_once() -> None:
    """No limit on change, no pause: full reversal in one tick; the plan says so itself."""
    plan = plain_output("motor", ())
    assert not plan.slews
    assert follow(plan, [ONE, -ONE, 7]) == [ONE, -ONE, 7]
    assert all(
        replace(plan, **change).slews for change in ({"up_step": 1}, {"down_step": 1}, {"pause_ticks": 1})
    )


@given(
    commands, commands, steps, st.booleans(), st.sampled_from(((-ONE, 0), (0, ONE), (0, 0), (-ONE, ONE)))
)
def test_a_veto_and_a_cut_act_at_once(
    before: int, wanted: int, step: int, cut: bool, allowed: tuple[int, int]
) -> None:
    """Whatever the slew, the command is inside the allowed range in the same tick, and 0 when cut."""
    plan = plain_output("motor", (), up_step=step, down_step=step)
    low, high = allowed
    after = drive.drive(plan, wanted, low, high, cut, OutputState(before, 0))
    assert low <= after.command <= high
    assert not cut or after.command == 0


@given(st.lists(commands, max_size=40), steps, steps, st.integers(0, 5))
def test_drive_is_odd_over_time(wanted: list[int], up: int, down: int, pause: int) -> None:
    """Mirrored wishes give mirrored commands, slew and pause included."""
    plan = plain_output("motor", (), up_step=up, down_step=down, pause_ticks=pause)
    assert follow(plan, [-command for command in wanted]) == [-command for command in follow(plan, wanted)]


@given(commands, st.integers(0, 16383), st.integers(0, 16383), st.booleans())
def test_the_wire_carries_the_command(x: int, low: int, high: int, reverse: bool) -> None:
    """The rest plus span times x, the span of its side, to the nearest; ends exact."""
    plan = plain_output("motor", (), rest=1500, low_span=low, high_span=high, reverse=reverse)
    sent = -x if reverse else x
    exact = 1500 + sent * (low if sent < 0 else high) / ONE
    assert abs(drive.on_wire(plan, x) - exact) <= 0.5
    ends = (drive.on_wire(plan, -ONE), drive.on_wire(plan, 0), drive.on_wire(plan, ONE))
    assert ends == ((1500 + high, 1500, 1500 - low) if reverse else (1500 - low, 1500, 1500 + high))


@given(commands, st.integers(0, 16383))
def test_duty_is_odd(x: int, span: int) -> None:
    """A signed duty count has the same magnitude both ways."""
    plan = plain_output("motor", (), wire=Wire.DUTY, rest=0, low_span=span, high_span=span)
    assert drive.on_wire(plan, -x) == -drive.on_wire(plan, x)


def test_a_gain_beyond_one_is_held_at_full_before_the_breakaway() -> None:
    """Every step of the level is a command, so none is beyond full."""
    assert drive.level(plain_output("wheel", (ONE,), gain=2 * ONE), ONE) == (ONE, ONE, ONE)
