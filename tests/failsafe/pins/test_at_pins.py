"""The judge at the pins: a right board is found right, and each wrong one is caught by what it shows."""

import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from mixer.board.pins.wires import Shape
from mixer.core.plan import Guard, Plan, Wire
from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.campaign.run import Request
from mixer.failsafe.pins import run as at_pins
from mixer.failsafe.pins.chip_only import lost_by_a_wrong_clock
from mixer.failsafe.pins.results import PinFault, PinResult
from mixer.failsafe.pins.scripts import at_pins as reaches_pins
from mixer.failsafe.pins.scripts import faults_at_pins, scripts_of, scripts_with
from mixer.failsafe.pins.wires.outside import Outside
from mixer.failsafe.report.account import Options, request_of
from mixer.failsafe.report.stop import Stop, stop_of
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.live.robot.robot import build_of
from mixer.profile.profile import load_profile, parse_profile
from tests.failsafe.pins.model_chip import ModelChip, Wrongs, pins_for
from tests.lengths import cases

PROFILES = Path(__file__).parents[3] / "profiles"
pytestmark = pytest.mark.no_cover


def robot(scenarios: int, *, duty: bool = False) -> tuple[Request, Stop]:
    """The small example robot, briefly; with `duty` its wires are bridges on the board."""
    profile = load_profile(PROFILES / "tank_pair.toml")
    request = request_of(build_of(profile), Options(scenarios=scenarios, jobs=1))
    plan = request.plan
    if duty:
        wires = [
            replace(output, wire=Wire.DUTY, rest=0, low_span=255, high_span=255) for output in plan.outputs
        ]
        plan = replace(plan, outputs=tuple(wires))
    return replace(request, plan=plan, seconds=0.1), stop_of(profile, None)


def run(
    keys: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
    wrongs: Wrongs | None = None,
    *,
    on_board: Plan | None = None,
    shape: Shape = Shape.PULSE,
    each: int = 4,
) -> PinResult:
    """Some faults on the model of a board, `each` times."""
    request, stop = robot(each * len(keys), duty=shape is not Shape.PULSE)
    known = {fault.key: fault for fault in faults_at_pins(request.plan)}
    monkeypatch.setattr(at_pins, "faults_at_pins", lambda *_: tuple(known[key] for key in keys))
    pins = pins_for(request.plan, bridge=shape is Shape.BRIDGE)
    plan = on_board or request.plan
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(plan, pins, wrongs), jobs=1)
    return at_pins.run_at_pins(rig, request)


def line(result: PinResult, key: str) -> PinFault:
    """One fault's line."""
    return next(fault for fault in result.faults if fault.key == key)


@pytest.mark.parametrize("shape", cases([Shape.PULSE], [Shape.DUTY, Shape.BRIDGE]))
def test_a_right_board_is_found_right(shape: Shape, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is broken, stops are timed, and late ticks, resets and hangs stop it."""
    keys = ("none", "all-lost", "frozen.arm", "reset", "overrun.once", "overrun.2", "hang", "power-up")
    found = run(keys, monkeypatch, shape=shape)
    assert [breach for fault in found.faults for breach in fault.breaches] == []
    assert not found.broken
    assert not found.idle
    verdicts = {fault.key: fault.verdict for fault in found.faults}
    assert {verdicts[key] for key in ("all-lost", "reset", "overrun.once", "overrun.2", "hang")} == {
        FaultVerdict.STOPS
    }
    assert verdicts["none"] is FaultVerdict.DRIVES_ON
    assert verdicts["power-up"] is FaultVerdict.STAYS
    assert verdicts["frozen.arm"] is FaultVerdict.UNKNOWABLE
    lost = line(found, "all-lost")
    assert lost.worst_ms is not None
    assert lost.promised_ms is not None
    assert lost.promised_ms - 45 < lost.worst_ms <= lost.promised_ms
    hung = line(found, "hang").worst_ms
    assert hung is not None
    assert 40 < hung < 64 + 20


WRONG = {
    "sees no tick late": (Wrongs(late_ticks=1e9), "overrun.once", "has to rest"),
    "has no watchdog": (Wrongs(watchdog=False), "hang", None),
    "drives the wrong way": (Wrongs(inverted=True), "none", "shows .* where"),
    "goes 1 % too far": (Wrongs(gain=1.01), "none", "shows .* where"),
    "measures 1 % too long, and says so": (Wrongs(misreads=1.01), "none", "shows .* where"),
    "twitches as it starts": (Wrongs(creeps_at_reset_us=80), "reset", "shows 15[78].* has to rest"),
}


@pytest.mark.parametrize("what", WRONG)
def test_a_wrong_board_is_caught(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """By what its pins show, whatever it says of itself."""
    wrongs, key, words = WRONG[what]
    found = line(run((key,), monkeypatch, wrongs), key)
    assert found.verdict is FaultVerdict.BROKEN
    if words is not None:
        assert any(re.search(words, breach.words) for breach in found.breaches)
    else:
        assert found.in_time is not None
        assert found.in_time < found.scenarios


@pytest.mark.parametrize("silent", [False, True])
def test_outputs_are_held_to_the_count_where_frames_tell(
    silent: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And nearly, where they do not: a right board that says nothing is found right as well."""
    found = line(run(("none",), monkeypatch, Wrongs(silent=silent)), "none")
    assert found.verdict is FaultVerdict.DRIVES_ON
    assert (found.exact > 0, found.near > 0) == (not silent, silent)


def test_a_direction_that_changes_under_duty_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """However short it is."""
    found = run(("none",), monkeypatch, Wrongs(turns_hard=True), shape=Shape.DUTY, each=8)
    words = {breach.words for fault in found.faults for breach in fault.breaches}
    assert "turns its direction while its duty is high" in words


@pytest.mark.parametrize("shape", cases([Shape.PULSE], [Shape.BRIDGE]))
@pytest.mark.parametrize(("late", "verdict"), [(0.9, FaultVerdict.DRIVES_ON), (1.1, FaultVerdict.MAY_STOP)])
def test_a_tick_begins_anew_from_a_whole_one_late_on(
    late: float, verdict: FaultVerdict, shape: Shape
) -> None:
    """One that is late by nine tenths of a tick is a tick as any other, and one by eleven is missing."""
    request, stop = robot(1, duty=shape is not Shape.PULSE)
    pins = pins_for(request.plan, bridge=shape is Shape.BRIDGE)
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(request.plan, pins), jobs=1)

    def hold_up(outside: Outside) -> None:
        period = round(outside.chip.hz * request.plan.tick_ms / 1000)
        outside.chip.halt(round((1 + late) * period) - (outside.now - outside.ticks[-1]))

    driving = next(script for script in scripts_with(request, "none") if script.moving and script.prefix)
    script = replace(driving, acts=((driving.onset, hold_up),), fault=Fault("held-up", "A tick is late."))
    (found,) = at_pins.lines_of(rig, [script.fault], at_pins.judged_scripts(rig, [script])).faults
    assert found.breaches == ()
    assert found.moving == 1
    assert found.verdict is verdict


@pytest.mark.parametrize("name", cases(["tank_pair"], ["long_crawler"]))
def test_few_as_they_are_something_moves_in_one_of_each_faults_scenarios(name: str) -> None:
    """A loss at rest shows nothing; what begins with switching on has nothing that moves before."""
    build = build_of(load_profile(PROFILES / f"{name}.toml"))
    request = replace(request_of(build, Options(scenarios=30)), seconds=0.1)
    scripts = list(scripts_of(request, faults_at_pins(build.plan)))
    moved = {script.fault.key for script in scripts if script.moving}
    assert {script.fault.key for script in scripts} - moved == {"power-up"}
    assert {script.guard for script in scripts} > {Guard.LIVE}


@pytest.mark.parametrize(
    ("key", "late_ticks", "verdict"),
    [
        ("hang", 1, FaultVerdict.STOPS),
        ("overrun.once", 1, FaultVerdict.STOPS),
        ("overrun.once", 1e9, FaultVerdict.BROKEN),
    ],
)
def test_what_drives_again_by_itself_had_stopped(
    key: str, late_ticks: float, verdict: FaultVerdict
) -> None:
    """A robot without an arm switch rests in the promised time, and then does as its hands say again."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    arm = 'arm = { switch = "arm", position = "on" }\n'
    profile = parse_profile(text.replace("[switch.arm]\nreceiver = 5\n", "").replace(arm, ""), "one")
    request = replace(request_of(build_of(profile), Options(scenarios=6)), seconds=0.1)
    assert request.plan.guard.arm is None
    pins = pins_for(request.plan)
    board = partial(ModelChip, request.plan, pins, Wrongs(late_ticks=late_ticks))
    rig = at_pins.Rig(request.plan, stop_of(profile, None), pins, board, jobs=1)
    faults = [fault for fault in faults_at_pins(request.plan) if fault.key == key]
    played = at_pins.judged_scripts(rig, list(scripts_of(request, faults)))
    (found,) = at_pins.lines_of(rig, faults, played).faults
    assert found.verdict is verdict
    assert found.moving > 1


def test_where_nothing_moved_nothing_is_shown() -> None:
    """The radio goes while everything rests: it rests afterwards as well, which is no stop."""
    request, stop = robot(1)
    pins = pins_for(request.plan)
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(request.plan, pins), jobs=1)
    resting = next(script for script in scripts_with(request, "all-lost") if not script.moving)
    (found,) = at_pins.lines_of(rig, [resting.fault], at_pins.judged_scripts(rig, [resting])).faults
    assert (found.moving, found.verdict) == (0, FaultVerdict.IDLE)
    assert not found.verdict.fine


def test_firmware_without_a_loss_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """It bridges for ever: pulses go on where rest is due, beyond the promised time."""
    plan = robot(1)[0].plan
    deaf = replace(plan, guard=replace(plan.guard, lost_ticks=100_000))
    found = line(run(("all-lost",), monkeypatch, on_board=deaf), "all-lost")
    assert found.verdict is FaultVerdict.BROKEN
    assert found.in_time is not None
    assert found.in_time < found.scenarios
    assert any("has to rest" in breach.words for breach in found.breaches)


def test_a_loss_by_a_wrong_clock_is_timed_by_that_clock() -> None:
    """It drives as the clock goes wrong, and rests in the time that the clock counts."""
    request, stop = robot(1)
    pins = pins_for(request.plan)
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(request.plan, pins), jobs=1)
    scripts = list(lost_by_a_wrong_clock(list(scripts_with(request, "all-lost"))))
    slow, fast = at_pins.lines_of(
        rig, list(dict.fromkeys(script.fault for script in scripts)), at_pins.judged_scripts(rig, scripts)
    ).faults
    for found in (slow, fast):
        assert found.verdict is FaultVerdict.STOPS
        assert found.moving == found.scenarios
        assert found.worst_ms is not None
        assert 200 < found.worst_ms <= 274.5


def test_every_fault_is_at_the_pins_or_below_them() -> None:
    """What is left out breaks behind the outputs, changes nothing, or is a second length of a hang."""
    plan = load_profile(PROFILES / "sample_carrier.toml").plan()
    left_out = {fault.kind for fault in catalogue(plan) if not reaches_pins(fault)}
    assert left_out == {"motor-gone", "stalled", "stuck-on", "jammed", "out-of-step", "other-firmware"}
    assert [fault.key for fault in faults_at_pins(plan) if fault.kind == "hang"] == ["hang"]


def test_how_far_it_has_come_is_told_while_a_portion_is_played(monkeypatch: pytest.MonkeyPatch) -> None:
    """A portion is a minute of a busy machine: not only when it is over."""
    monkeypatch.setattr(at_pins, "TELL_EVERY_S", 0.005)
    request, stop = robot(1)
    pins = pins_for(request.plan)
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(request.plan, pins), jobs=1)
    scripts = list(scripts_with(request, "none"))[:4]
    told: list[float] = []
    list(at_pins.judged_scripts(rig, scripts, told.append))
    assert len(scripts) < at_pins.PORTION
    assert any(0 < share < 1 for share in told)
    assert told == sorted(told)
    assert told[-1] == 1


def test_who_interrupts_it_waits_for_no_more_than_what_is_under_way(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ctrl-C comes where progress is told: of a portion of many scripts no other is begun."""
    monkeypatch.setattr(at_pins, "TELL_EVERY_S", 0.005)
    request, stop = robot(1)
    pins = pins_for(request.plan)
    rig = at_pins.Rig(request.plan, stop, pins, lambda: ModelChip(request.plan, pins), jobs=1)
    begun: list[object] = []
    play = at_pins.Player.play
    monkeypatch.setattr(at_pins.Player, "play", lambda self, script: begun.append(0) or play(self, script))

    def interrupt(share: float) -> None:
        if begun:
            raise KeyboardInterrupt

    scripts = list(scripts_with(request, "none"))[:12]
    with pytest.raises(KeyboardInterrupt):
        list(at_pins.judged_scripts(rig, scripts, interrupt))
    assert 1 <= len(begun) < 4
