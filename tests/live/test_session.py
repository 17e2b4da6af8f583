"""A robot on the bench, run by a clock turned by hand."""

import random
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.errors import OptionError
from mixer.live.bench.session import Session
from mixer.runs.play.engines import direct_engine
from tests.lengths import cases
from tests.live.benches import Bench


def stir(rng: random.Random, session: Session) -> None:
    """Do to sticks and switches what a restless driver may do."""
    sticks = session.sticks
    for name in sticks.names:
        match rng.randrange(6):
            case 0:
                sticks.set(name, rng.uniform(-1, 1))
            case 1:
                sticks.release(name)
            case 2:
                sticks.hold(name, rng.choice([-1, 1]))
            case 3:
                sticks.nudge(name, rng.choice([-0.1, 0.1]))
            case 4:
                sticks.centre()
    for switch in session.snapshot().switches:
        if rng.random() < 0.15:
            sticks.cycle(switch.name)


@pytest.mark.parametrize(
    ("robot", "quick"),
    cases(
        [("sample_carrier", True), ("tank_pair", False), ("holonomic_trio", True), ("long_crawler", False)],
        [("sample_carrier", False), ("tank_pair", True), ("holonomic_trio", False), ("long_crawler", True)],
    ),
)
def test_signals_are_those_of_the_plain_engine(tmp_path: Path, robot: str, quick: bool) -> None:
    """Bit for bit, over stirred sticks and injected faults, with generated code and without."""
    bench = Bench(tmp_path, robot, quick=quick)
    session, rng = bench.session, random.Random(robot)
    engine = direct_engine(session.robot.plan)
    step = session.robot.board.step
    compared = 0

    def both(inputs: list[int]) -> object:
        nonlocal compared
        signals = step(inputs)
        assert list(signals) == list(engine.step(inputs))
        compared += 1
        return signals

    session.robot.board.step = both  # type: ignore[method-assign,assignment]
    for _ in range(12):
        stir(rng, session)
        if rng.random() < 0.3:
            keys = [choice.key for choice in session.faults.choices if choice.group in ("radio", "pulses")]
            session.faults.toggle(rng.choice(keys))
        bench.run(0.15)
    assert compared > 700
    assert session.robot.board.state == engine.state
    assert session.robot.board.is_quick == quick
    session.close()


def test_uneven_frames_do_not_drift(bench: Bench) -> None:
    """Simulated time follows the clock to a tick over 20 s of uneven frames (`test_pace` has ten)."""
    rng, start = random.Random(1), bench.now_s
    while bench.now_s < start + 20:
        bench.now_s += rng.uniform(0.005, 0.09)
        snapshot = bench.session.advance(bench.now_s)
        assert abs(snapshot.time_s - (bench.now_s - start)) <= 0.0021
    assert snapshot.tick == round(snapshot.time_s / 0.002)
    assert snapshot.cost.skipped_s == 0


def test_a_stall_is_told(bench: Bench) -> None:
    """After three seconds asleep a tenth is run, and the event log says what was left out."""
    bench.run(0.1)
    bench.now_s += 3.0
    snapshot = bench.session.advance(bench.now_s)
    assert snapshot.cost.ticks == 50
    assert snapshot.cost.skipped_now_s == pytest.approx(2.9, abs=0.003)
    assert any("2.90 s left out" in words for words in bench.words("session"))


def test_stalls_are_gathered_into_one_line(bench: Bench) -> None:
    """Ten stalls in two seconds are one line with their sum; what happens between them stays to be seen."""
    for number in range(10):
        bench.run(0.1)
        bench.now_s += 0.3
        bench.session.advance(bench.now_s)
        if number == 4:
            bench.session.events.add(0.0, "fault", "something else")
    said = [words for words in bench.words("session") if "left out" in words]
    assert len(said) == 1
    assert bench.words("fault") == ["something else"]
    bench.now_s += 11.0
    bench.session.advance(bench.now_s)
    said = [words for words in bench.words("session") if "left out" in words]
    assert said[-1].startswith(f"{bench.session.snapshot().cost.skipped_s:.2f} s left out so far")
    assert len(said) == 2


def test_a_pause_costs_no_time(bench: Bench) -> None:
    """Held, nothing moves and the snapshot stays the same object; resumed, it goes on without a jump."""
    before = bench.run(0.5)
    bench.session.pause()
    held = bench.run(5.0)
    assert held.tick == before.tick
    assert not held.transport.playing
    assert bench.session.snapshot() is held
    assert bench.session.step(3).tick == before.tick + 3
    bench.session.resume()
    after = bench.run(0.1)
    assert after.tick - before.tick == pytest.approx(53, abs=1)
    assert after.cost.skipped_s == 0


def test_the_guard_says_what_it_waits_for(bench: Bench) -> None:
    """Arm off, then on with a stick out, then held still: each is told, and then the robot is live."""
    assert bench.run(0.2).guard.why == ("the arm switch arm is off, not on",)
    bench.session.sticks.set("throttle", 0.5)
    bench.session.sticks.turn("arm", 1)
    assert "throttle is at" in " ".join(bench.run(0.2).guard.why)
    bench.session.sticks.release("throttle")
    waiting = bench.run(0.4).guard
    assert "another" in waiting.why[0]
    assert 0 < waiting.arming < 1
    live = bench.run(0.5).guard
    assert (live.state, live.why, live.arming) == ("live", (), 1.0)


def test_driving_moves_the_robot_and_its_battery(bench: Bench) -> None:
    """Forward goes along the nose, a turn turns, current flows, charge falls, a trail is left behind."""
    bench.arm()
    bench.session.sticks.turn("pace", 2)
    bench.session.sticks.set("throttle", 0.6)
    ahead = bench.run(1.5)
    assert ahead.physics is not None
    assert ahead.physics.x_m > 0.3
    assert abs(ahead.physics.y_m) < 0.1
    assert ahead.physics.battery_a > 1
    assert ahead.physics.charge < 1
    assert len(ahead.trail) > 5
    assert all(wheel.speed_mps > 0.1 for wheel in ahead.physics.wheels)
    bench.session.sticks.set("steering", 1.0)
    turned = bench.run(1.0)
    assert turned.physics is not None
    assert turned.physics.heading_rad < ahead.physics.heading_rad - 0.3


def test_an_actuator_runs_to_its_stop_and_is_held_there(bench: Bench) -> None:
    """Out to the end, the switch closes, extending is blocked in words, and the way back stays free."""
    bench.arm()
    bench.session.sticks.set("tip", 1.0)
    out = bench.run(9.0)
    tray = out.actuators[0]
    assert tray.position > 0.97
    assert tray.position_mm == pytest.approx(tray.position * 60)
    assert (tray.out_closed, tray.blocked_out, tray.blocked_in) == (True, True, False)
    held = {item.kind: item.words for item in out.outputs[4].held}
    assert held["interlock"] == "extending blocked: end stop left_out is closed"
    told = {step.stage: step.text for step in bench.session.explain(out.outputs[4].name)}
    assert told["interlock"].startswith(held["interlock"])
    assert out.outputs[4].command == 0
    bench.session.sticks.set("tip", -1.0)
    assert bench.run(1.0).outputs[4].command < 0
    assert bench.words("rule") == []


def test_the_chain_of_an_output_ends_at_its_wire(bench: Bench) -> None:
    """Explained at any instant, between frames too, first comes the pulse that was sent, last the wire."""
    bench.arm()
    bench.session.sticks.set("throttle", 0.5)
    bench.run(0.5)
    for _ in range(15):
        snapshot = bench.session.step(1)
        steps = bench.session.explain("left_front")
        throttle = next(step for step in steps if step.stage == "pulse" and "throttle" in step.text)
        channel = next(item for item in snapshot.channels if item.name == "throttle")
        assert throttle.value == channel.pulse_us == channel.arrived_us
        assert "receives" in throttle.text
        assert "no pulse" not in throttle.text
        assert steps[-1].stage == "wire"
        assert steps[-1].value == snapshot.outputs[0].wire
    with pytest.raises(OptionError, match="no output"):
        bench.session.explain("nose")


def test_the_curve_is_the_firmwares_and_the_point_is_on_it(bench: Bench) -> None:
    """Odd, flat in the deadband, full at the rate, and the live point lies on it, for each shape chosen.

    Those that are not chosen are there by their names.
    """
    bench.arm()
    bench.session.sticks.set("throttle", 0.6)
    for position, name in enumerate(("crawl", "soft", "dash")):
        bench.session.sticks.turn("pace", position)
        bench.run(0.2)
        curve = bench.session.curve("throttle")
        points = dict(curve.points)
        assert curve.shape == name
        assert all(points[-x] == -y for x, y in points.items())
        assert points[0] == 0
        shape = bench.session.robot.plan.sticks[1].shapes[position]
        assert points[16384] == shape.rate
        assert [other for other, _ in curve.others] == [n for n in ("crawl", "soft", "dash") if n != name]
        below = max(x for x in points if x <= curve.live[0])
        above = min(x for x in points if x >= curve.live[0])
        assert points[below] <= curve.live[1] <= points[above]


def test_snapshots_are_numbered_and_named_after_the_plan(bench: Bench) -> None:
    """Revisions rise with every difference; rows carry the plan's names in the plan's order."""
    first = bench.run(0.1)
    second = bench.run(0.1)
    assert second.revision > first.revision
    plan = bench.session.robot.plan
    assert [row.name for row in second.channels] == [channel.name for channel in plan.channels]
    assert [row.name for row in second.outputs] == [output.name for output in plan.outputs]
    assert [row.name for row in second.sources] == list(plan.sources)
    assert [row.name for row in second.contacts] == [contact.name for contact in plan.contacts]
    assert hash(second.guard) == hash(second.guard)


def test_another_loadout_powers_up_anew(bench: Bench) -> None:
    """Without the tray the plan has four outputs; the event log says so, and driving works."""
    bench.arm()
    bench.session.change_loadout("bare")
    snapshot = bench.run(0.2)
    assert (snapshot.loadout, len(snapshot.outputs), snapshot.guard.state) == ("bare", 4, "resting")
    bench.session.sticks.turn("arm", 0)
    bench.run(0.2)
    assert bench.arm().guard.state == "live"
    with pytest.raises(OptionError):
        bench.session.change_loadout("none_such")


def test_switching_off_and_on_does_not_start_by_itself(bench: Bench) -> None:
    """With the arm switch left on, the robot stays at rest after power-up."""
    bench.arm()
    bench.session.sticks.set("throttle", 0.5)
    bench.run(1.0)
    bench.session.power_up()
    bench.session.sticks.centre()
    after = bench.run(2.0)
    assert after.guard.state == "resting"
    assert "has not been seen off" in " ".join(after.guard.why)
    assert after.physics is not None
    assert abs(after.physics.speed_mps) < 0.01


def test_an_unknown_source_is_refused(bench: Bench) -> None:
    """The words name those that are there."""
    with pytest.raises(OptionError, match="no 'replay'"):
        bench.session.use("replay")


def test_the_layout_gives_every_signal_a_snapshot_needs(bench: Bench) -> None:
    """The machine's signals follow the plan's layout (so names and numbers belong together)."""
    bench.run(0.1)
    assert len(bench.session.robot.signals) == len(layout_of(bench.session.robot.plan).signals)
