"""A board's image beside the core: no difference where there is none, every kind found where there is."""

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest

from mixer.board.chip.chip import Edge, Reset, Seen
from mixer.board.engine.flashed import Flashed, flash
from mixer.board.engine.parity import Account, Parity
from mixer.board.engine.receiver import Receiver
from mixer.board.engine.run import Anew, BoardTick
from mixer.board.engine.shown import PinHistory
from mixer.board.pins.wires import OutputPins, Pins, Shape
from mixer.core.ops import ONE
from mixer.errors import ChipError, OptionError, ProfileError
from mixer.profile.profile import load_profile
from tests.board.engine.drives import (
    compared,
    inverted,
    short_drive,
    stretched,
    with_channels_swapped,
    with_outputs_swapped,
)
from tests.plans import plain_output, tank_plan

PROFILES = Path(__file__).parents[3] / "profiles"
AVR = [pytest.mark.needs_tool("avr-gcc"), pytest.mark.needs_tool("simavr"), pytest.mark.needs_tool("gcc")]
ARM = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]


@cache
def flashed(name: str, board: str) -> Flashed:
    """An example robot's image."""
    return flash(load_profile(PROFILES / f"{name}.toml"), None, board)


def kinds(account: Account) -> set[str]:
    """Which kinds of differences there are."""
    return {difference.kind for difference in account.differences}


@pytest.mark.parametrize(
    ("name", "board"),
    [
        pytest.param("tank_pair", "atmega328p", marks=AVR),
        pytest.param("sample_carrier", "rp2040", marks=[*ARM, pytest.mark.long]),
        *(
            pytest.param(name, "rp2040", marks=[*ARM, pytest.mark.long])
            for name in ("tank_pair", "holonomic_trio", "long_crawler")
        ),
    ],
)
def test_an_example_robot_does_on_its_board_what_the_core_does(name: str, board: str) -> None:
    """Every pulse read, every command equal to the tick, every pin as commanded."""
    robot = flashed(name, board)
    rows = short_drive(robot.plan)
    account = compared(robot, rows)

    assert account.differences == ()
    assert account.equal
    assert account.ticks == len(rows)
    assert account.pulses_read == sum(
        pulse > 0 for row in rows for pulse in row[: len(robot.plan.channels)]
    )
    assert account.pulses_shown >= len(robot.plan.outputs) * (len(rows) * robot.plan.tick_ms // 20 - 5)


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_what_is_flashed_and_is_not_what_was_tuned_is_found(board: str, tmp_path: Path) -> None:
    """Another expo in the image than in the profile: commands differ, reading and pins do not."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text.replace("expo = 0.3", "expo = 0.31"), encoding="utf-8")
    tuned = flashed("tank_pair", board)
    wrong = replace(tuned, image=flash(load_profile(other), None, board).image)
    account = compared(wrong, short_drive(tuned.plan))

    assert kinds(account) == {"commanded"}
    assert "output" in account.differences[0].where
    assert account.differences[0].wanted != account.differences[0].found


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_a_wrong_pin_is_found_with_its_tick_and_both_values(board: str) -> None:
    """Two outputs the wrong way round show at the pins alone, two channels at what is read."""
    robot = flashed("tank_pair", board)
    rows = short_drive(robot.plan)
    outputs = compared(with_outputs_swapped(robot), rows)
    channels = compared(with_channels_swapped(robot), rows)

    assert kinds(outputs) == {"shown"}
    assert outputs.differences[0].where.startswith("PB2 (left)")
    assert outputs.differences[0].wanted.endswith("µs")
    assert "read" in kinds(channels)
    assert channels.differences[-1].where.startswith(robot.pins.channels[1])


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_a_wire_that_inverts_or_smears_is_found(board: str) -> None:
    """Low for high; and falls 1.5 µs late, where 1 µs is allowed and 0.5 µs is not told."""
    robot = flashed("tank_pair", board)
    rows = short_drive(robot.plan, 25)
    pin = robot.pins.outputs[1].pin

    upside_down = compared(robot, rows, meddle=inverted(pin))
    smeared = compared(robot, rows, meddle=stretched(pin, 24))
    nearly = compared(robot, rows, meddle=stretched(pin, 8))
    assert kinds(upside_down) == kinds(smeared) == {"shown"}
    assert smeared.differences[0].where == f"{pin} (right)"
    assert nearly.differences == ()


@pytest.mark.parametrize(
    ("pin_of", "meddle"),
    [
        pytest.param(0, inverted, marks=ARM),
        pytest.param(1, inverted, marks=[*ARM, pytest.mark.long]),
    ],
)
def test_a_duty_or_a_direction_that_inverts_is_found(pin_of: int, meddle: object) -> None:
    """The duty's pin, and its direction's."""
    robot = flashed("sample_carrier", "rp2040")
    output = robot.pins.outputs[0]
    account = compared(robot, short_drive(robot.plan, 12), meddle=inverted(output.pins[pin_of]))

    assert kinds(account) == {"shown"}
    assert account.differences[0].where == f"{output.pins[pin_of]} ({output.name})"


@pytest.mark.parametrize(
    "board", [pytest.param("atmega328p", marks=AVR), pytest.param("rp2040", marks=[*ARM, pytest.mark.long])]
)
def test_a_pulse_sum_wire_is_played_and_read_whole(board: str, tmp_path: Path) -> None:
    """Eight channels one after the other on one wire: every train in its tick, a missing one missing."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    profile = tmp_path / "one_wire.toml"
    profile.write_text(f'{text}\n[receiver]\nwire = "pulse-sum"\n', encoding="utf-8")
    robot = flash(load_profile(profile), None, board)
    rows = short_drive(robot.plan, 30)
    account = compared(robot, rows)

    assert robot.pins.train == 8
    assert set(robot.pins.channels) == {robot.pins.channels[0]}
    assert account.differences == ()
    assert account.equal
    assert account.pulses_read == sum(pulse > 0 for row in rows for pulse in row[:3])


@pytest.mark.parametrize(
    "board", [pytest.param("rp2040", marks=ARM), pytest.param("atmega328p", marks=[*AVR, pytest.mark.long])]
)
def test_bridges_with_two_inputs_do_what_the_core_does(board: str, tmp_path: Path) -> None:
    """One that brakes and one that coasts, on pins found for them: at rest both inputs are alike."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    for pin, at_zero in (("9", "brake"), ("10", "coast")):
        bridge = f'wire = "duty"\nbridge = "two-inputs"\nat_zero = "{at_zero}"'
        text = text.replace(f"pin = {pin}\n", f"pin = {pin}\n{bridge}\n")
    profile = tmp_path / "bridges.toml"
    named = {"rp2040": "atmega328p", "atmega328p": "rp2040"}[board]
    profile.write_text(text.replace('board = "atmega328p"', f'board = "{named}"'), encoding="utf-8")
    robot = flash(load_profile(profile), None, board)
    account = compared(robot, short_drive(robot.plan))

    assert account.differences == ()
    assert account.equal


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_a_log_that_no_wire_carries_is_refused(board: str) -> None:
    """A pulse of 2 ms cannot follow another one after a tick of 2 ms."""
    robot = flashed("tank_pair", board)
    run = robot.power_up()
    with pytest.raises(ChipError, match="would begin before the one before it has ended"):
        run.feed([[2000, 1500, 1500], [2200, 0, 0]])
    run.chip.close()


def test_pulses_end_amid_their_tick_and_edges_lie_apart() -> None:
    """Whatever the widths: the receiver that is played is one that a board can read exactly."""
    robot_pins = Pins(("A", "B", "C"), ("D",), (), "", 0, (1, 2, 3), (1,))
    receiver = Receiver(robot_pins, 16_000_000, 32_000, [1])
    edges = []
    for row in range(10, 210, 10):
        planned, played = receiver.edges(row, [1500, 1500 + row // 10, 2000 - row], (row + 1) * 32_000)
        assert played == [1500, 1500 + row // 10, 2000 - row]
        edges += planned
    times = sorted(edge.cycle for edge in edges)
    falls = [edge.cycle % 32_000 for edge in edges if edge.level == 0]

    assert len(edges) == 20 * 6
    assert min(b - a for a, b in pairwise(times)) >= 16 * 16
    assert min(falls) > 6_000
    assert max(falls) < 26_000


def test_pulses_that_are_broken_on_purpose_are_played_as_far_as_a_wire_can() -> None:
    """Overlapping ones are shortened or left out, and what was played is told; a train is whole or none."""
    receiver = Receiver(Pins(("A",), (), (), "", 0, (1,)), 1_000_000, 2_000, [])
    receiver.shortens = True
    played = [
        receiver.edges(row, [pulse], (row + 10) * 2_000) for row, pulse in enumerate([1500, 2900, 5000])
    ]
    (first, _), (second, wide), (third, none) = played

    assert [edge.level for edge in first + second] == [1, 0, 1, 0]
    assert first[1].cycle < second[0].cycle
    assert wide == [second[1].cycle - second[0].cycle]
    assert 1900 < wide[0] < 2020
    assert (third, none, receiver.not_played) == ([], [0], 2)

    train = Receiver(Pins(("A", "A"), (), (), "", 2, (1, 2)), 1_000_000, 2_000, [])
    train.shortens = True
    assert train.edges(0, [1500, 3000], 40_000)[1] == [1500, 0], "no slot is as long as a gap"
    assert train.edges(1, [1500, 1500], 42_000) == ([], [0, 0])
    assert train.not_played == 3
    assert len(train.edges(20, [1500, 1500], 80_000)[0]) == 6


@pytest.mark.parametrize(
    "board", [pytest.param("atmega328p", marks=AVR), pytest.param("rp2040", marks=[*ARM, pytest.mark.long])]
)
def test_a_board_that_begins_anew_is_numbered_on_as_time_goes(board: str) -> None:
    """Reset, then late: no two ticks at one time, those that were missed are none, and why is told."""
    robot = flashed("tank_pair", board)
    run = robot.power_up()
    run.excuse(2 * run.chip.hz)
    rows = iter([[1500 if number % 10 == 0 else 0] * 3 for number in range(400)])
    for _ in range(run.ahead):
        run.plan(next(rows))
    run.do(run.first_row + 60, 0, lambda: run.chip.reset(Reset.PIN, run.tick // 10))
    run.do(run.first_row + 200, 0, lambda: run.chip.halt(3 * run.tick))
    ticks = []
    for row in rows:
        run.plan(row)
        ticks.append(run.through())
    run.chip.close()
    ran = [tick for tick in ticks if tick is not None]
    anew = [tick for tick in ran if tick.anew is not Anew.NO]

    assert [tick.anew for tick in anew] == [Anew.RESET, Anew.LATE]
    assert [ticks[tick.number - run.first_row] for tick in ran] == ran
    assert 60 <= anew[0].number - run.first_row < 60 + 60 // 2
    assert 200 < anew[1].number - run.first_row < 210
    assert all(later.at - earlier.at >= run.tick for earlier, later in pairwise(ran))
    pulses = [
        pair for tick in ran[-100:] for pair in zip(tick.half_us, tick.given, strict=False) if any(pair)
    ]
    assert len(pulses) == 30
    assert all(abs(read - 2 * given) <= 2 for read, given in pulses)


@pytest.mark.parametrize(("stopped", "kinds_found"), [(None, {"shown"}), (120_500, set())])
def test_a_pulse_that_a_reset_cuts_is_no_difference(stopped: int | None, kinds_found: set[str]) -> None:
    """It rose before the last tick and lasts 1 ms instead of 1.5: wrong, unless a reset cut it."""
    plan = replace(tank_plan(), outputs=(plain_output("o", (ONE,)),))
    pins = Pins((), (), (OutputPins("o", Shape.PULSE, "A", rest=1500),), "")
    history = PinHistory(["A"])
    edges = [(19_500, 1), (21_000, 0), (119_500, 1), (120_500, -1)]
    edges += [
        (at + more, 1 - more // 1500) for at in (39_500, 59_500, 79_500, 99_500) for more in (0, 1500)
    ]
    history.add(Seen([Edge(at, "A", level) for at, level in sorted(edges)], [], [], []))
    run = SimpleNamespace(
        chip=SimpleNamespace(hz=1_000_000, cycle=140_000),
        tick=2_000,
        pins=pins,
        history=history,
        boot=[],
        first_row=0,
        stopped=stopped,
        receiver=SimpleNamespace(not_played=0),
        time_of=lambda number: number * 2_000,
    )
    parity = Parity(run, plan)  # type: ignore[arg-type]
    ticks = [
        BoardTick(number, number * 2_000, (), (), (1500,), 0, None, (), (0, 0)) for number in range(61)
    ]
    parity.obeyed(ticks, [(1500, 0)] * len(ticks))
    parity.shown()

    assert kinds(parity.account()) == kinds_found
    assert parity.account().pulses_shown >= 5


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_a_board_that_begins_anew_unasked_is_told(board: str) -> None:
    """A reset with no fault there to explain it ends the run."""
    run = flashed("tank_pair", board).power_up()
    run.do(run.first_row + 5, 0, lambda: run.chip.reset(Reset.LOW_SUPPLY))
    with pytest.raises(ChipError, match=r"the board was reset at cycle .*: LOW_SUPPLY"):
        run.feed([[0, 0, 0]] * 300)
    run.chip.close()


def test_robots_and_boards_that_do_not_go_together_are_refused() -> None:
    """With what would help."""
    carrier = load_profile(PROFILES / "sample_carrier.toml")
    with pytest.raises(OptionError, match="there is no board 'abacus'"):
        flash(carrier, None, "abacus")
    with pytest.raises(ProfileError, match="does not fit the ATmega328P: 6 duties"):
        flash(carrier, None, "atmega328p")
