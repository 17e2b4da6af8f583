"""A watched board while it runs, and its take-over into a changed plan."""

import random
from dataclasses import replace

import pytest

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.laws.relations import relations
from mixer.live.judge.carry import carry_over, memory_beside
from mixer.live.judge.monitored import LiveBoard, quick_of
from mixer.runs.play.engines import direct_engine
from tests.laws.monitor import Monitor
from tests.lengths import cases
from tests.strategies import driving, random_plan

pytestmark = pytest.mark.no_cover

seeds = pytest.mark.parametrize("seed", cases(range(2), range(2, 12)))


def retuned(rng: random.Random, plan: Plan) -> Plan:
    """The same robot with numbers turned as a builder may turn them."""
    guard = replace(
        plan.guard,
        lost_ticks=rng.randint(1, 60),
        hold_ticks=rng.randint(1, 60),
        neutral_within=rng.randint(0, ONE // 4),
        ramps=rng.random() < 0.5,
        resumes=rng.random() < 0.5,
    )
    outputs = tuple(
        replace(
            output,
            limit=rng.randint(1, ONE),
            up_step=rng.randint(1, ONE),
            down_step=rng.randint(1, ONE),
            pause_ticks=rng.choice([0, 0, 1, 7]),
        )
        for output in plan.outputs
    )
    contacts = tuple(replace(contact, release_ticks=rng.randint(0, 9)) for contact in plan.contacts)
    actuators = tuple(
        replace(actuator, both_ticks=rng.randint(1, 9), travel_limit=rng.choice([None, ONE * 3, ONE * 400]))
        for actuator in plan.actuators
    )
    flip = None if plan.flip is None else replace(plan.flip, settle_ticks=rng.randint(1, 9))
    return replace(plan, guard=guard, outputs=outputs, contacts=contacts, actuators=actuators, flip=flip)


@seeds
def test_a_live_board_is_the_firmware_with_the_monitor_beside_it(seed: int) -> None:
    """Signals equal the core's bit for bit and broken rules the monitor's, called directly or generated."""
    rng = random.Random(seed)
    plan = random_plan(rng)
    engine, monitor, board = direct_engine(plan), Monitor(plan), LiveBoard(plan)
    for number, row in enumerate(driving(rng, plan, 300)):
        if number == 100:
            assert board.adopt(quick_of(plan))
        signals = engine.step(row)
        assert list(board.step(row)) == list(signals)
        assert board.broken == tuple(broken.rule for broken in monitor.step(signals, row))
    assert board.is_quick
    assert board.state == engine.state


@seeds
def test_a_retuned_robot_goes_on_without_breaking_a_rule(seed: int) -> None:
    """After a take-over state and memory agree, no rule is broken by it, and generated code still fits."""
    rng = random.Random(100 + seed)
    plan = random_plan(rng)
    board = LiveBoard(plan)
    for _ in range(6):
        for row in driving(rng, plan, rng.randint(1, 150)):
            board.step(row)
            assert board.broken == ()
        after = retuned(rng, plan)
        saved = carry_over(plan, board.saved, after)
        own = len(LiveBoard(after).state)
        agreed = relations(after, layout_of(after).state_of(saved), saved[own:])
        assert [name for name, holds in agreed.items() if not holds] == []
        plan, board = after, LiveBoard(after, saved)


@seeds
def test_nothing_is_lost_by_taking_over_into_the_same_plan(seed: int) -> None:
    """Carried into an equal plan, firmware state stays as it is and the next signals are the same."""
    rng = random.Random(200 + seed)
    plan = random_plan(rng)
    board = LiveBoard(plan)
    for row in driving(rng, plan, 200):
        board.step(row)
        carried = LiveBoard(plan, carry_over(plan, board.saved, plan))
        assert carried.state == board.state


@seeds
def test_a_start_in_the_middle_of_a_drive_breaks_no_rule(seed: int) -> None:
    """From any state of a drive, the memory worked out beside it agrees, and the drive goes on clean."""
    rng = random.Random(300 + seed)
    plan = random_plan(rng)
    engine = direct_engine(plan)
    for row in driving(rng, plan, 250):
        engine.step(row)
        saved = memory_beside(plan, engine.state)
        own = len(engine.state)
        assert saved[:own] == engine.state
        agreed = relations(plan, layout_of(plan).state_of(saved), saved[own:])
        assert [name for name, holds in agreed.items() if not holds] == []
    board = LiveBoard(plan, saved)
    for row in driving(rng, plan, 100):
        assert list(board.step(row)) == list(engine.step(row))
        assert board.broken == ()


def test_generated_code_names_the_same_broken_rules() -> None:
    """With one remembered number made wrong rules break; directly and generated, the same are named."""
    named = set()
    for seed in range(4):
        rng = random.Random(400 + seed)
        plan = random_plan(rng)
        quick, board = quick_of(plan), LiveBoard(plan)
        rows = driving(rng, plan, 200)
        for row in rows[:-1]:
            board.step(row)
        for place in range(len(board.state), len(board.saved)):
            for value in {0, 1, -1, quick.ranges[place].low, quick.ranges[place].high}:
                wrong = [*board.saved]
                wrong[place] = value
                if not quick.fits(wrong):
                    continue
                direct, generated = LiveBoard(plan, wrong), LiveBoard(plan, wrong)
                assert generated.adopt(quick)
                direct.step(rows[-1])
                generated.step(rows[-1])
                assert generated.broken == direct.broken
                named |= {rule.key for rule in direct.broken}
    assert len(named) >= 2, named


def test_a_quick_tick_is_taken_up_only_where_it_fits() -> None:
    """Another plan's code is refused, and so is a state outside what this plan's can reach."""
    rng = random.Random(5)
    plan, other = random_plan(rng), random_plan(rng)
    board = LiveBoard(plan)
    assert not board.adopt(quick_of(other))
    beyond = list(board.saved)
    beyond[0] = 10_000
    assert not LiveBoard(plan, beyond).adopt(quick_of(plan))
    assert board.adopt(quick_of(plan))


def test_a_state_of_another_length_is_refused() -> None:
    """`restore` says how many numbers the plan has."""
    board = LiveBoard(random_plan(random.Random(1)))
    with pytest.raises(ValueError, match="where the plan has"):
        board.restore([0])
