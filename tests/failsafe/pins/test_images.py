"""Faults at the pins of compiled images: the right one on simulated chips, and wrong ones."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from mixer.board.chip.known import chip_of
from mixer.board.engine.flashed import wiring_for
from mixer.board.image.fields import Slot, slots_of
from mixer.board.kinds.known import board_named
from mixer.board.pins.of_wiring import pins_of
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.reasons import reason
from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.campaign.run import Request
from mixer.failsafe.pins.chip_only import cases_of, scripts_for
from mixer.failsafe.pins.flips import Outcome, flips
from mixer.failsafe.pins.loops import with_loops
from mixer.failsafe.pins.report import DEFAULT_SCENARIOS, report_at_pins
from mixer.failsafe.pins.results import PinResult
from mixer.failsafe.pins.run import Rig, judged_scripts, lines_of
from mixer.failsafe.pins.scripts import faults_at_pins, scripts_of, scripts_with
from mixer.failsafe.report.account import Options, request_of
from mixer.failsafe.report.stop import stop_of
from mixer.live.robot.robot import build_of
from mixer.profile.profile import Profile, load_profile, parse_profile
from tests.failsafe.pins.parts import PART, largest_part

FRAME_US = 20_000
SMALL = board_named("atmega328p")
PROFILES = Path(__file__).parents[3] / "profiles"
AVR = (pytest.mark.needs_tool("avr-gcc"), pytest.mark.needs_tool("simavr"), pytest.mark.needs_tool("make"))
ARM = (
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("rp2040js"),
    pytest.mark.needs_tool("make"),
)
MARKS = {"atmega328p": AVR, "rp2040": ARM}
pytestmark = pytest.mark.no_cover


Edit = tuple[str, str, str]
"""A file, a text in it as a pattern, what stands in its place."""


MADE = {
    "duty": (
        ("pin = 9", 'pin = "GP0"\nwire = "duty"'),
        ("pin = 10", 'pin = "GP2"\nwire = "duty"'),
        ('board = "atmega328p"', 'board = "rp2040"'),
    ),
    "small_duty": (("pin = 9", 'pin = 6\nwire = "duty"'), ("pin = 10", 'pin = 5\nwire = "duty"')),
    "slow": (("tick_ms = 2", "tick_ms = 10"),),
    "one_wire": (("[stick.throttle]", '[receiver]\nwire = "pulse-sum"\n\n[stick.throttle]'),),
}
"""Bridges on the board and no slew, for either board; a long tick; all channels on one pulse-sum wire."""


@lru_cache(maxsize=8)
def profile(name: str) -> Profile:
    """An example robot, or one of `MADE`, which are made from the small one."""
    if name not in MADE:
        return load_profile(PROFILES / f"{name}.toml")
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    for old, new in MADE[name]:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_profile(text, name)


def rig(name: str, board: str, edits: Sequence[Edit] = (), jobs: int = 1) -> Rig:
    """The robot's image, with some texts of its sources put in place of others."""
    wiring = wiring_for(profile(name), None, board)
    files = dict(sources_of(profile(name), None, wiring))
    for where, old, new in edits:
        assert len(re.findall(old, files[where])) == 1, f"{where} has changed: {old}"
        files[where] = re.sub(old, new, files[where])
    image, _ = with_loops(image_of_project(files, wiring.board))
    plan = profile(name).plan()
    pins = pins_of(wiring, plan)
    return Rig(plan, stop_of(profile(name), None), pins, lambda: chip_of(board, image), jobs)


def request(name: str, scenarios: int) -> Request:
    """Of so many scenarios, as short as its times allow."""
    return replace(request_of(build_of(profile(name)), Options(scenarios=scenarios)), seconds=0.1)


def play(name: str, board: str, keys: Mapping[str, int], edits: Sequence[Edit] = ()) -> PinResult:
    """So many scenarios of each fault, on an image that may be a wrong one."""
    made = rig(name, board, edits)
    known = faults_at_pins(made.plan, FRAME_US if made.pins.train else 0)
    faults = [fault for fault in known if fault.key in keys]
    scripts = [script for fault in faults for script in scripts_of(request(name, keys[fault.key]), [fault])]
    return lines_of(made, faults, judged_scripts(made, scripts))


def of_its_own(name: str, keys: tuple[str, ...], loops: Mapping[str, int]) -> PinResult:
    """What only a chip can have, of these kinds, on the small board's: seven at most, as loops are many."""
    made = rig(name, "atmega328p")
    healthy = list(scripts_with(request(name, 1), "none"))
    cases = [case for case in cases_of(made.plan, loops) if case.fault.key.startswith(keys)]
    judged = judged_scripts(made, list(scripts_for(cases[:7], healthy)))
    return lines_of(made, [case.fault for case in cases], judged)


BOARDS = [
    pytest.param("atmega328p", {"none": 1, "all-lost": 1, "hang": 1}, marks=AVR),
    pytest.param(
        "rp2040", {"none": 2, "all-lost": 2, "hang": 2, "overrun.once": 2}, marks=(*ARM, pytest.mark.long)
    ),
]


@pytest.mark.parametrize(("board", "keys"), BOARDS)
def test_the_image_is_found_right(board: str, keys: Mapping[str, int]) -> None:
    """A loss, a hang and a late tick stop it at its pins, in the promised times, all held to the count.

    But for a hang: it cuts the frame that would have told of the last pulses.
    """
    found = play("tank_pair", board, keys)
    assert sum(fault.near for fault in found.faults if fault.key != "hang") == 0
    assert all(fault.near < fault.exact for fault in found.faults)
    assert [breach for fault in found.faults for breach in fault.breaches] == []
    verdicts = {fault.key: fault.verdict for fault in found.faults}
    assert verdicts.pop("none") is FaultVerdict.DRIVES_ON
    assert set(verdicts.values()) == {FaultVerdict.STOPS}
    assert any(fault.moving for fault in found.faults)


@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    ("board", "each"),
    [
        pytest.param("atmega328p", 1, marks=(*AVR, pytest.mark.long)),
        pytest.param("atmega328p", 2, marks=(*AVR, pytest.mark.long)),
        pytest.param("rp2040", 2, marks=(*ARM, pytest.mark.long)),
    ],
)
def test_trains_that_are_not_whole_stop_it(board: str, each: int) -> None:
    """All channels on one wire: pulses merged or parted, no gap, noise; one train in four does no harm."""
    gone = ("all-lost", "train.merged", "train.parted", "train.no-gap", "train.noise")
    some = ("train.some-merged", "train.some-parted")
    keys = ("train.merged", "train.some-parted") if each == 1 else (*gone, *some)
    found = play("one_wire", board, dict.fromkeys(keys, each))
    assert [fault.breaches for fault in found.faults] == [()] * len(keys)
    for fault in found.faults:
        assert fault.near == 0
        assert fault.verdict is (FaultVerdict.STOPS if fault.key in gone else FaultVerdict.DRIVES_ON)
    assert any(fault.moving for fault in found.faults)


READ = r"in\.numbers\[k\] = (\(uint16_t\)\(\(width >> 1\) \+ \(width & 1U\)\));"
HELD = r"static uint16_t held[INPUTS];\nif (width) { held[k] = \1; } in.numbers[k] = held[k];"
SENT = r"frame->wires = outputs\.numbers;"
MIRRORED = (
    "for (k = 0; k < WIRES; k++) { outputs.numbers[k] = (int16_t)(3000 - outputs.numbers[k]); }\n"
    "frame->wires = outputs.numbers;"
)
TOO_FAR = (
    "for (k = 0; k < WIRES; k++) {\n"
    "outputs.numbers[k] = (int16_t)(1500 + (outputs.numbers[k] - 1500) * 101L / 100L); }\n"
    "frame->wires = outputs.numbers;"
)
TOO_LITTLE = (
    "for (k = 0; k < WIRES; k++) { outputs.numbers[k] = (int16_t)(outputs.numbers[k] * 99L / 100L); }\n"
    "frame->wires = outputs.numbers;"
)
TOO_LONG = "widths[k] = (uint16_t)((uint32_t)reader->widths[k] * 101UL / 100UL);"
TURN = "static void turn_direction(uint8_t k);\n/* What a wire carries, in the direction"
REST_FIRST = r"turns = 1;\n(\s+wanted\[k\] = wires\[k\];)\n\s+show\(k, 0\);"
AT_ONCE = r"turning[k] = 0;\n\1\n turn_direction(k);"
WRONG: dict[str, tuple[str, str, tuple[Edit, ...], str, str]] = {
    "bridges a loss for ever": (
        "tank_pair",
        "atmega328p",
        (("mix_on_board.c", READ, HELD),),
        "all-lost",
        "has to rest",
    ),
    "drives the wrong way": (
        "tank_pair",
        "atmega328p",
        (("mix_on_board.c", r"frame->wires = outputs\.numbers;", MIRRORED),),
        "none",
        "is due",
    ),
    "goes 1 % too far": (
        "tank_pair",
        "atmega328p",
        (("mix_on_board.c", SENT, TOO_FAR),),
        "none",
        "is due",
    ),
    "measures 1 % too long, and says so": (
        "tank_pair",
        "atmega328p",
        (("reader.c", r"widths\[k\] = reader->widths\[k\];", TOO_LONG),),
        "none",
        "is due",
    ),
    "gives 1 % too little duty": (
        "duty",
        "rp2040",
        (("mix_on_board.c", SENT, TOO_LITTLE),),
        "none",
        "is due",
    ),
    "takes trains that are not whole": (
        "one_wire",
        "atmega328p",
        (("reader.c", r"reader->at == CHANNELS\)", "reader->at + 1U >= CHANNELS)"),),
        "train.merged",
        "",
    ),
    "sees no tick late": (
        "tank_pair",
        "atmega328p",
        (("main.c", r"2UL \* FRAME_TICKS", "200UL * FRAME_TICKS"),),
        "overrun.once",
        "has to rest",
    ),
    "feeds its watchdog from an interrupt": (
        "tank_pair",
        "atmega328p",
        (("capture_atmega328p.S", "TIMER1_OVF_vect:", "TIMER1_OVF_vect: wdr"),),
        "hang",
        "",
    ),
    "turns its direction under duty": (
        "duty",
        "rp2040",
        (
            ("hal_rp2040.c", r"/\* What a wire carries, in the direction", TURN),
            ("hal_rp2040.c", REST_FIRST, AT_ONCE),
        ),
        "reversed.throttle",
        "turns its direction while its duty is high",
    ),
}
"""What is wrong: robot, board, edits, the fault under which it shows, and what is then seen."""


PLAIN = "bridges a loss for ever"


def _marks(what: str) -> tuple[pytest.MarkDecorator, ...]:
    return MARKS[WRONG[what][1]] if what == PLAIN else (*MARKS[WRONG[what][1]], pytest.mark.long)


@pytest.mark.timeout(600)
@pytest.mark.parametrize("what", [pytest.param(each, marks=_marks(each)) for each in WRONG])
def test_a_wrong_image_is_caught(what: str) -> None:
    """By its pins, under the fault that it is wrong about."""
    name, board, edits, key, words = WRONG[what]
    (found,) = play(name, board, {key: 2 if what == PLAIN else 4}, edits).faults
    assert found.verdict is FaultVerdict.BROKEN
    if words:
        assert any(words in breach.words for breach in found.breaches)
    else:
        assert found.in_time is not None
        assert found.in_time < found.scenarios


@pytest.mark.needs_tool("avr-gcc", "simavr", "make")
@pytest.mark.long
def test_a_hang_in_a_loop_and_a_flood_stop_it() -> None:
    """Noise on every wire moves nothing; a falling supply, a flood and a loop that never ends stop it."""
    keys = ("power-up-noise", "brown-out", "edge-flood", "edge-crowd", "serial-flood", "loop.main")
    found = of_its_own("tank_pair", keys, loops_of("tank_pair"))
    assert not found.broken
    verdicts = {fault.key.partition("+")[0]: fault.verdict for fault in found.faults}
    assert verdicts["power-up-noise"] is FaultVerdict.STAYS
    assert verdicts["serial-flood"] is FaultVerdict.DRIVES_ON
    assert {verdicts[key] for key in ("brown-out", "edge-flood", "edge-crowd", "loop.main")} == {
        FaultVerdict.STOPS
    }


@pytest.mark.needs_tool("avr-gcc", "simavr", "make")
@pytest.mark.long
def test_a_flood_that_no_long_tick_is_late_for_stops_it_as_a_loss() -> None:
    """None of 10 ms comes a whole one late: a flood has to last until the loss is due to stop it."""
    (found,) = of_its_own("slow", ("edge-flood",), {}).faults
    assert found.verdict is FaultVerdict.STOPS
    assert found.moving == 1
    assert found.worst_ms is not None
    assert 150 < found.worst_ms < 282.5


def loops_of(name: str) -> dict[str, int]:
    """The loops of its image for the small board."""
    wiring = wiring_for(profile(name), None, "atmega328p")
    return with_loops(image_of_project(sources_of(profile(name), None, wiring), wiring.board))[1]


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("make")
def test_a_loop_is_called_by_the_routine_that_it_is_in() -> None:
    """The last instruction of all is the C library's, whatever jumps there."""
    found = loops_of("tank_pair")
    assert "__stop_program+0x0" in found
    assert all(int(name.partition("+")[2], 16) < 0x200 for name in found)


@pytest.mark.needs_tool("avr-gcc", "simavr", "make")
@pytest.mark.long
def test_a_flipped_bit_is_told_by_what_it_does() -> None:
    """Many in one run are told as each alone is; harmless ones have no words, others say what they do."""
    made = rig("tank_pair", "atmega328p")
    healthy = list(scripts_with(request("tank_pair", 1), "none"))
    slots = [slot for slot in slots_for("tank_pair") if slot.name in FLIPPED]
    told = flips(made, slots, healthy)
    assert [flip.where.partition(":")[0] for flip in told] == 2 * [slot.name for slot in slots]
    assert all((flip.outcome is Outcome.HARMLESS) == (flip.words == "") for flip in told)
    outcomes = {(flip.where.partition(":")[0], flip.while_): flip.outcome for flip in told}
    assert outcomes["state.guard_state", "driving"] is not Outcome.HARMLESS
    for buffer in ("board.wire[62]", "board.reader.began[3]"):
        assert outcomes[buffer, "driving"] is outcomes[buffer, "resting"] is Outcome.HARMLESS
    for slot in slots[-2:]:
        alone = tuple(flip for flip in told if flip.where.startswith(f"{slot.name}:"))
        assert flips(made, [slot], healthy) == alone


@pytest.mark.long
@pytest.mark.timeout(600)
@pytest.mark.parametrize("board", [pytest.param(name, marks=marks) for name, marks in MARKS.items()])
def test_no_flipped_bit_moves_it_or_lasts(board: str) -> None:
    """What never changes is out of reach, or missed within 30 ms; what changes is right again soon.

    Every variable of the board's own file and one constant in four, in a drive and at rest.
    """
    made = rig(DUTY[board], board)
    healthy = list(scripts_with(request(DUTY[board], 1), "none"))
    own = [slot for slot in slots_for(DUTY[board], board) if slot.symbol not in ("board", "state", "ring")]
    constant = [slot for slot in own if slot.constant]
    assert bool(constant) is (board == "rp2040")
    told = flips(made, [*(slot for slot in own if not slot.constant), *constant[::4]], healthy)
    assert Outcome.STOPPED in {flip.outcome for flip in told}
    assert {Outcome.MOVES, Outcome.ASTRAY}.isdisjoint(flip.outcome for flip in told)
    lasting = [flip for flip in told if flip.outcome is Outcome.OTHERWISE]
    assert all(float(re.findall(r"to (\d+) ms", flip.words)[0]) <= 50 for flip in lasting), lasting


@pytest.mark.parametrize("board", [pytest.param(name, marks=marks) for name, marks in MARKS.items()])
def test_a_bit_that_flips_in_what_an_output_is_drives_nothing(board: str) -> None:
    """On the chip with its program in RAM it gives up within 30 ms; on the other there is no such bit."""
    made = rig(DUTY[board], board)
    healthy = list(scripts_with(request(DUTY[board], 1), "none"))
    kinds = [slot for slot in slots_for(DUTY[board], board) if "kinds" in slot.name][:1]
    assert bool(kinds) is (board == "rp2040")
    told = flips(made, kinds, healthy)
    assert {flip.outcome for flip in told} <= {Outcome.STOPPED}


DUTY = {"atmega328p": "small_duty", "rp2040": "duty"}
FLIPPED = (
    "board.reader.began[3]",
    "board.wire[62]",
    "outputs[0]",
    "state.guard_seen_off",
    "state.channel_throttle_pulse",
    "state.guard_state",
)


def slots_for(name: str, board: str = "atmega328p") -> Sequence[Slot]:
    """Of its image for a board."""
    wiring = wiring_for(profile(name), None, board)
    sources = sources_of(profile(name), None, wiring)
    return list(slots_of(image_of_project(sources, wiring.board), sources))


EXAMPLES = ("tank_pair", "holonomic_trio", "long_crawler", "sample_carrier")


@pytest.mark.long
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("name", [pytest.param(name, marks=ARM) for name in EXAMPLES])
def test_example_robots_hold_at_their_pins(name: str) -> None:
    """Every fault that reaches the pins, and a chip's own; in the time that the whole chain promises."""
    hold(profile(name), None, "rp2040", DEFAULT_SCENARIOS)


ON_THE_SMALL_BOARD = {
    "tank_pair": (None, "", ("left", "right")),
    "holonomic_trio": (PART, "3 servo pulses", ("front", "rear_left")),
    "long_crawler": (PART, "6 servo pulses", ("left_front", "right_front")),
    "sample_carrier": ("bare", "6 duties", ("left_front", "left_rear", "right_front", "right_rear")),
}
"""The part of it that fits, why not all of it, and the outputs of that part."""


@pytest.mark.parametrize("name", ON_THE_SMALL_BOARD)
def test_which_part_of_an_example_robot_fits_the_small_board(name: str) -> None:
    """By the search that tries every pin: the whole, a loadout, or what is left without some outputs."""
    loadout, short, outputs = ON_THE_SMALL_BOARD[name]
    whole = fit(profile(name), None, SMALL)
    assert isinstance(whole, Misfit) == bool(short)
    if isinstance(whole, Misfit):
        assert reason(whole).startswith(f"{short} want a pin each")
    part = part_of(name, loadout)
    assert isinstance(fit(part, loadout, SMALL), Wiring)
    assert tuple(output.name for output in part.plan(loadout).outputs) == outputs


@pytest.mark.long
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("name", [pytest.param(name, marks=AVR) for name in ON_THE_SMALL_BOARD])
def test_what_fits_the_small_board_holds_at_its_pins(name: str) -> None:
    """The largest part of each example robot."""
    loadout = ON_THE_SMALL_BOARD[name][0]
    hold(part_of(name, loadout), loadout, "atmega328p", 30)


def part_of(name: str, loadout: str | None) -> Profile:
    """The robot that has the loadout."""
    if loadout != PART:
        return profile(name)
    part, _ = largest_part((PROFILES / f"{name}.toml").read_text(encoding="utf-8"), SMALL)
    return part


def hold(robot: Profile, loadout: str | None, board: str, scenarios: int) -> None:
    """Nothing is broken at its pins, and as good as all that moves was held to the count."""
    report = report_at_pins(robot, loadout, board, Options(scenarios=scenarios), False, lambda _: None)
    assert report.campaign.scenarios >= scenarios
    assert report.against == ()
    lost = next(fault for fault in report.campaign.faults if fault.key == "all-lost")
    assert lost.in_time == lost.scenarios > 0
    faults = report.campaign.faults
    assert 20 * sum(fault.near for fault in faults) < sum(fault.exact for fault in faults)
