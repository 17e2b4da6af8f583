"""Breaking things on the running robot."""

import pytest

from mixer.errors import OptionError
from mixer.faults.catalogue import catalogue
from mixer.live.judge import monitored
from mixer.live.views.snapshot import Snapshot
from tests.live.benches import Bench


def drive(bench: Bench) -> Snapshot:
    """Live, half throttle."""
    bench.arm()
    bench.session.sticks.set("throttle", 0.5)
    return bench.run(1.0)


def test_every_fault_of_the_catalogue_is_on_offer(bench: Bench) -> None:
    """All but "none", and what may come with a loss, each with words and the group it belongs to."""
    choices = bench.session.faults.choices
    known = [fault.key for fault in catalogue(bench.session.robot.plan) if fault.key != "none"]
    keys = [choice.key for choice in choices]
    assert keys[: len(known)] == known
    assert all(key.startswith("two.") and key.endswith("+all-lost") for key in keys[len(known) :])
    assert {choice.group for choice in choices} == {
        "radio", "pulses", "plugs", "power", "end stops", "motors", "together",
    }  # fmt: skip
    assert all(choice.words for choice in choices)


@pytest.mark.no_cover
def test_every_fault_can_be_injected_and_mended(bench: Bench) -> None:
    """One after the other on a driving robot: no rule is broken, and each is told and told mended."""
    drive(bench)
    keys = [choice.key for choice in bench.session.faults.choices]
    for key in keys:
        bench.session.faults.inject(key)
        assert bench.run(0.1).faults == (key,)
        bench.session.faults.clear(key)
    bench.run(0.1)
    assert len([words for words in bench.words("fault") if words.startswith("injected")]) == len(keys)
    assert len([words for words in bench.words("fault") if words.startswith("mended")]) == len(keys)
    assert bench.words("rule") == []


def test_losing_the_radio_stops_the_robot_in_the_promised_time(bench: Bench) -> None:
    """260 ms after the last frame every command is zero and the guard has stopped; mended, it rests."""
    drive(bench)
    bench.session.faults.inject("all-lost")
    still = bench.session.step(100)
    assert still.guard.state == "live"
    assert all(channel.missing for channel in still.channels)
    gone = bench.session.step(31)
    assert gone.guard.state == "stopped"
    assert all(output.command == 0 for output in gone.outputs)
    assert all(channel.lost for channel in gone.channels)
    assert [item.kind for item in gone.outputs[0].held] == ["guard"]
    bench.session.faults.clear_all()
    assert bench.run(0.5).guard.state == "resting"


def test_several_faults_at_once(bench: Bench) -> None:
    """A reversed stick and a swapped end stop act together, each as it does alone."""
    drive(bench)
    bench.session.faults.inject("reversed.throttle")
    bench.session.faults.inject("stuck-closed.left_out")
    both = bench.run(0.5)
    assert both.faults == ("reversed.throttle", "stuck-closed.left_out")
    assert both.outputs[0].command < 0
    assert both.actuators[0].out_closed
    bench.session.faults.clear("reversed.throttle")
    assert bench.run(0.5).outputs[0].command > 0


def test_a_repeated_frame_goes_on_driving(bench: Bench) -> None:
    """What no firmware can see: the last frame before the fault is repeated whatever the hands do."""
    before = drive(bench)
    bench.session.faults.inject("repeats-last")
    bench.session.sticks.set("throttle", -0.5)
    after = bench.run(1.0)
    assert after.guard.state == "live"
    assert after.outputs[0].command == before.outputs[0].command


def test_a_reset_starts_the_board_anew(bench: Bench) -> None:
    """It comes up at rest although arm is on, and the event log says that the board has started anew."""
    drive(bench)
    bench.session.faults.inject("reset")
    bench.session.step(3)
    bench.session.faults.clear_all()
    assert bench.run(1.0).guard.state in ("resting", "searching")
    assert bench.words("fault").count("the board starts anew") == 1


def test_switching_on_with_sticks_pushed_does_not_move(bench: Bench) -> None:
    """Arm on and sticks pushed from power-up: nothing moves, whatever the hands do, until it is mended."""
    bench.session.faults.inject("power-up")
    for _ in range(20):
        snapshot = bench.run(0.1)
        assert all(output.command == 0 for output in snapshot.outputs)
    assert snapshot.guard.armed
    assert snapshot.channels[1].pulse_us > 1800


def test_a_slow_firmware_misses_ticks_and_stops(bench: Bench) -> None:
    """With one tick in five run, each of them comes late: the robot stops, and no hand can arm it."""
    drive(bench)
    bench.session.faults.inject("overrun.5")
    ran = []
    step = bench.session.robot.board.step
    bench.session.robot.board.step = lambda inputs: (  # type: ignore[method-assign]
        ran.append(True), step(inputs),
    )[1]  # fmt: skip
    assert bench.session.step(500).guard.state == "searching"
    assert len(ran) == 100
    bench.session.sticks.turn("arm", -1)
    bench.run(0.5)
    bench.arm()
    assert bench.run(0.5).guard.state in ("searching", "resting")
    assert bench.words("rule") == []
    told = bench.words("fault")
    assert told[1] == "a tick came late: the mix starts anew"
    assert len(told) <= 4, "not a line for each of the hundred and more"
    assert told[-1].startswith("a tick came late: the mix starts anew, ")


def test_outputs_stand_while_a_tick_is_late_and_rest_when_it_begins(bench: Bench) -> None:
    """One tick takes 50 ms of 2 ms each: the last commands, then zero until a hand arms again."""
    before = drive(bench)
    bench.session.faults.inject("overrun.once")
    still = bench.session.step(25)
    assert [output.command for output in still.outputs] == [output.command for output in before.outputs]
    assert still.guard.state == "live"
    gone = bench.session.step(1)
    assert {output.command for output in gone.outputs} == {0}
    assert gone.guard.state == "resting", "by the pulse that waited"
    bench.session.faults.clear_all()
    assert {output.command for output in bench.run(1.0).outputs} == {0}
    bench.session.sticks.set("throttle", 0.0)
    bench.session.sticks.turn("arm", -1)
    bench.run(0.5)
    bench.arm()
    assert bench.run(0.1).guard.state == "live"


def test_a_clock_that_is_slow_sees_nothing_late(bench: Bench) -> None:
    """A tenth of the ticks is missing and the board's own clock shows none of it: it drives on."""
    drive(bench)
    bench.session.faults.inject("slow-clock.10")
    assert bench.run(1.0).guard.state == "live"


def test_firmware_that_sees_no_tick_late_breaks_a_rule(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It drives on where it should be as just powered up; the watcher comes to that by itself."""
    monkeypatch.setattr(monitored, "starts_anew", lambda _: False)
    drive(bench)
    bench.session.faults.inject("overrun.once")
    driven_on = bench.session.step(30)
    assert driven_on.outputs[0].command != 0
    assert "Nothing moves after power-up before the robot has been armed." in {
        rule.words for rule in driven_on.rules
    }


def test_a_disconnected_motor_rolls_and_a_stalled_one_holds(bench: Bench) -> None:
    """Opposites : no current and a turning wheel; a stall's current and a locked one."""
    whole = drive(bench).physics
    assert whole is not None
    bench.session.faults.inject("motor-gone.left_front")
    gone = bench.run(0.5)
    bench.session.faults.clear_all()
    bench.session.faults.inject("stalled.left_front")
    held = bench.run(0.5)
    assert gone.physics is not None
    assert held.physics is not None
    assert gone.outputs[0].command == held.outputs[0].command > 0
    assert gone.physics.output_a[0] == 0.0
    assert gone.physics.wheels[0].speed_mps > 0.3 * whole.wheels[0].speed_mps
    assert held.physics.output_a[0] > 4 * whole.output_a[0]
    assert held.physics.wheels[0].speed_mps == pytest.approx(0.0, abs=1e-3)
    assert held.physics.speed_mps < gone.physics.speed_mps < whole.speed_mps


def test_a_controller_that_is_stuck_on_drives_on(bench: Bench) -> None:
    """Radio gone, every command zero, and yet current flows and the robot turns on until it is mended."""
    drive(bench)
    bench.session.faults.inject("all-lost")
    bench.session.faults.inject("stuck-on.right_rear")
    gone = bench.run(1.0)
    assert gone.physics is not None
    assert {output.command for output in gone.outputs} == {0}
    assert gone.physics.output_a[3] > 1.0
    assert gone.physics.turn_radps > 0.02
    assert gone.physics.wheels[-1].speed_mps > 0.1
    bench.session.faults.clear("stuck-on.right_rear")
    mended = bench.run(2.0)
    assert mended.physics is not None
    assert abs(mended.physics.output_a[3]) < 0.1
    assert mended.physics.turn_radps == pytest.approx(0.0, abs=0.01)


def test_a_jammed_screw_stays_and_one_out_of_step_is_ahead(bench: Bench) -> None:
    """One draws a stall's current where it stands; the other jumps by a tenth and gets there first."""
    bench.arm()
    bench.session.sticks.set("tip", 1.0)
    start = bench.run(2.0)
    bench.session.faults.inject("jammed.tray_left")
    bench.session.faults.inject("out-of-step")
    jammed = bench.run(1.0)
    assert start.physics is not None
    assert jammed.physics is not None
    assert jammed.actuators[0].position == pytest.approx(start.actuators[0].position, abs=1e-3)
    assert jammed.physics.output_a[4] > 2 * start.physics.output_a[4]
    moved = jammed.actuators[1].position - start.actuators[1].position
    assert moved > 0.1 + 0.5 * start.actuators[1].position / 2


def test_a_broken_rule_lights_up(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """When a rule breaks (made to here), snapshot and event log name it, and it goes out again."""
    drive(bench)
    board = bench.session.robot.board
    step, rule = board.step, board.rules[0]

    def wrong(inputs: list[int]) -> object:
        signals = step(inputs)
        board.mask = 1
        return signals

    monkeypatch.setattr(board, "step", wrong)
    lit = bench.session.step(1).rules[0]
    assert (lit.key, lit.words, lit.now, lit.count) == (rule.key, rule.words, True, 1)
    monkeypatch.setattr(board, "step", step)
    assert not bench.session.step(1).rules[0].now
    assert bench.run(2.5).rules == ()
    assert bench.words("rule") == [f"broken: {rule.words}"]


def test_an_unknown_fault_is_refused(bench: Bench) -> None:
    """In words."""
    with pytest.raises(OptionError, match="no fault 'rain'"):
        bench.session.faults.inject("rain")
