"""Board and Python compared tick by tick, on the real firmware with a freshly exported mix."""

import csv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import BeganAnew, BoardMix, Decoder, Event, Frame, Identity, Lost, encode
from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from mixer.errors import WrongDeviceError
from mixer.link.binding import Binding
from mixer.link.parity import Mismatch, Parity
from mixer.link.session import Replugged, Unplugged
from mixer.profile.profile import fingerprint_of
from tests.lengths import cases
from tests.link.firmware import build_board
from tests.link.reader_board import MHZ, Board
from tests.lower.c_exports import plan_of_robot, write_mix
from tests.plans import cart_plan

PERIOD_US = 20_003.7
PROFILES = Path(__file__).parents[2] / "profiles"


def drive(n: int) -> tuple[int, int, int]:
    """A drive in receiver frames: rest, arm, sweep both sticks, a loss of a second, and again."""
    at = n % 400
    armed = 2000 if at >= 20 else 1000
    if at < 60:
        return 1500, 1500, armed
    return 1000 + (n * 37) % 1001, 1000 + (n * 53) % 1001, armed


def edges(number: int) -> Iterator[Edge]:
    """The drive on the pins, with a second of silence in each eight."""
    for n in range(number):
        if n % 400 >= 350:
            continue
        at = 103_000 + n * PERIOD_US
        for pin, width in enumerate(drive(n)):
            yield Edge(round(at * MHZ), f"PB{pin}", 1)
            yield Edge(round((at + width) * MHZ), f"PB{pin}", 0)
            at += width + 30


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("gcc")
@pytest.mark.needs_tool("simavr")
def test_the_exported_mix_on_the_board_agrees_on_every_tick(tmp_path: Path) -> None:
    """Twenty seconds of driving, losses and contacts included: all ticks compared, none differs."""
    plan = cart_plan(tick_ms=20)
    write_mix(tmp_path, plan, fingerprint_of(plan))
    board = Board(build_board(MIX=str(tmp_path), CHANNELS=3, CONTACTS=1))
    board.play(edges(1000))
    events: list[Event] = []
    decoder, parity = Decoder(), Parity(plan)
    for second in range(20):
        board.run_seconds(1)
        board.set_pin("PD4", int(second % 3 > 0))
        events += decoder.feed(board.take())
    board.close()

    assert parity.take(events) == []
    frames = [event for event in events if isinstance(event, Frame)]
    assert (parity.compared, parity.passed_over) == (len(frames), 0)
    assert len(frames) >= 998
    guards = {frame.mix.guard for frame in frames if frame.mix}
    assert guards >= {Guard.SEARCHING, Guard.RESTING, Guard.LIVE, Guard.STOPPED}
    assert len({frame.mix.wires for frame in frames if frame.mix}) > 300, "the outputs hardly moved"


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("gcc")
@pytest.mark.needs_tool("simavr")
def test_a_mix_on_board_reads_the_receiver_s_numbers(tmp_path: Path) -> None:
    """Channels 2, 3 and 5 of a reader with five: the board's mix and ours read the same three."""
    plan = cart_plan(tick_ms=20)
    channels = zip(plan.channels, (2, 3, 5), strict=True)
    plan = replace(plan, channels=tuple(replace(channel, receiver=n) for channel, n in channels))
    write_mix(tmp_path, plan, fingerprint_of(plan))
    board = Board(build_board(MIX=str(tmp_path), CHANNELS=5, CONTACTS=1))
    pins = {"PB0": "PB1", "PB1": "PB2", "PB2": "PC0"}
    moved = (edge._replace(pin=pins[edge.pin]) for edge in edges(400))
    board.play(moved)
    events: list[Event] = []
    decoder, parity, binding = Decoder(), Parity(plan), Binding(plan)
    for _ in range(8):
        board.run_seconds(1)
        events += decoder.feed(board.take())
    board.close()
    bound = [binding.bound(event) if isinstance(event, Frame) else event for event in events]
    assert parity.take(bound) == []
    assert parity.compared == sum(isinstance(event, Frame) for event in events)
    assert Guard.LIVE in {frame.mix.guard for frame in bound if isinstance(frame, Frame) and frame.mix}


def edges_of_log(rows: list[dict[str, str]], plan: Plan, after_us: float) -> Iterator[Edge]:
    """A recorded drive on the pins: each row's pulses one after the other, its contacts at once."""
    pins = [f"PB{pin}" for pin in range(4)] + [f"PC{pin}" for pin in range(4)]
    for row in rows:
        at = after_us + float(row["t_ms"]) * 1000
        for number, contact in zip(plan.contact_inputs, plan.contacts, strict=True):
            yield Edge(round(at * MHZ), f"PD{3 + number}", int(row[contact.name]))
        for number, channel in zip(plan.receivers, plan.channels, strict=True):
            pin = pins[number - 1]
            if row[channel.name]:
                yield Edge(round(at * MHZ), pin, 1)
                at += float(row[channel.name])
                yield Edge(round(at * MHZ), pin, 0)
                at += 25


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("gcc")
@pytest.mark.needs_tool("simavr")
@pytest.mark.parametrize("seconds", cases([8], [20]))
def test_an_example_robot_agrees_on_every_tick_of_a_recorded_drive(tmp_path: Path, seconds: int) -> None:
    """The carrier's export at its own 2 ms tick, some seconds of its log on the pins: no difference."""
    plan = plan_of_robot("sample_carrier")
    write_mix(tmp_path, plan, fingerprint_of(plan))
    choices = {"CHANNELS": max(plan.receivers), "CONTACTS": max(plan.contact_inputs)}
    tick_us = plan.tick_ms * 1000
    elf = build_board(MIX=str(tmp_path), FRAME_US=tick_us, BAUD="1000000UL", **choices)
    with (PROFILES / "logs" / "carrier_rough_ground.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if float(row["t_ms"]) < seconds * 1000]
    board = Board(elf)
    board.play(edges_of_log(rows, plan, after_us=50_000))
    board.run_seconds(seconds)
    events = Decoder().feed(board.take())
    board.close()

    parity, binding = Parity(plan), Binding(plan)
    assert (
        parity.take([binding.bound(event) if isinstance(event, Frame) else event for event in events]) == []
    )
    frames = [event for event in events if isinstance(event, Frame) and event.mix]
    assert parity.compared == len(frames) >= seconds * 1000 // plan.tick_ms - 2
    assert isinstance(events[0], Identity)
    assert events[0].fingerprint == fingerprint_of(plan)
    assert Guard.LIVE in {frame.mix.guard for frame in frames if frame.mix}
    assert len({frame.mix.wires for frame in frames if frame.mix}) > 15 * seconds, (
        "the outputs hardly moved"
    )
    assert len({frame.contacts for frame in frames}) > 1, "no end stop was met"


def as_on_board(plan: Plan, number: int) -> list[Event]:
    """Frames as a faithful board would send them, through the wire format."""
    layout = layout_of(plan)
    state = list(layout.start)
    wire = b""
    for n in range(number):
        signals, state = flat_tick(plan, [*drive(n), *[1] * len(plan.contacts)], state)
        wires = tuple(signals[layout.index(f"output.{output.name}.wire")] for output in plan.outputs)
        mix = BoardMix(signals[layout.index("guard.state")], wires)
        wire += encode(Frame(n, 20_000 * (n + 1), tuple(2 * pulse for pulse in drive(n)), 1, None, mix))
    return Decoder().feed(wire)


def test_one_wrong_number_is_found() -> None:
    """A single wire off by one in a single tick is told, with where and what."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 200)
    frame = events[150]
    assert isinstance(frame, Frame)
    assert frame.mix
    left, right = frame.mix.wires
    events[150] = replace(frame, mix=BoardMix(frame.mix.guard, (left, right + 1)))

    parity = Parity(plan)
    found = parity.take(events)

    assert found == [Mismatch(150, frame.time_us, "output.right.wire", right + 1, right)]
    assert str(found[0]) == (
        f"3.020 s, frame 150: output.right.wire is {right + 1} on the board, {right} here"
    )
    assert (parity.compared, parity.mismatched) == (200, 1)


def test_nothing_is_claimed_after_a_lost_frame() -> None:
    """The state after a lost tick is unknown, so the ticks after it are passed over, not guessed."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 100)

    parity = Parity(plan)
    found = parity.take([*events[:40], Lost(1), *events[41:]])

    assert found == []
    assert (parity.compared, parity.passed_over) == (40, 59)


@pytest.mark.parametrize("seen_from_the_start", [True, False])
def test_a_sequence_that_wraps_is_no_restart(seen_from_the_start: bool) -> None:
    """Frame 0 after frame 65535 goes on from where the board was, and starts no comparison of its own."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 300)
    wrapped = [replace(event, sequence=(event.sequence - 250) & 0xFFFF) for event in events
               if isinstance(event, Frame)]  # fmt: skip
    parity = Parity(plan)

    if seen_from_the_start:
        start = [replace(wrapped[0], sequence=0), *wrapped[1:]]
        assert parity.take(start) == []
        assert (parity.compared, parity.passed_over) == (300, 0)
    else:
        assert parity.take(wrapped[100:]) == [], "armed all the time: nothing settles its state"
        assert (parity.compared, parity.passed_over) == (0, 200)


def test_a_pulled_plug_ends_the_comparison() -> None:
    """No `Lost` tells of frames missed while the cable was out; nothing is claimed after it."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 100)

    parity = Parity(plan)
    found = parity.take([*events[:40], Unplugged("gone"), Replugged(), *events[60:]])

    assert found == []
    assert (parity.compared, parity.passed_over) == (40, 40)


def test_one_met_in_the_middle_is_compared_once_its_state_is_settled() -> None:
    """With the arm switch off for a moment one state is left: a wrong wire right behind it is found."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 800)
    frame = events[430]
    assert isinstance(frame, Frame)
    assert frame.mix
    left, right = frame.mix.wires
    events[430] = replace(frame, mix=BoardMix(frame.mix.guard, (left, right + 1)))

    parity = Parity(plan)
    assert parity.take(events[300:400]) == []
    assert not parity.in_step
    assert parity.unsettled == ("guard.seen_off",)
    assert [found.sequence for found in parity.take(events[400:])] == [430]
    assert parity.passed_over < 110
    assert parity.compared + parity.passed_over == 500


def test_what_no_state_of_the_mix_can_give_is_a_difference_from_the_middle_as_well() -> None:
    """Disarmed, wires are at rest whatever was before: one that moves is told, with what is possible."""
    plan = cart_plan(tick_ms=20)
    events = as_on_board(plan, 420)
    frame = events[405]
    assert isinstance(frame, Frame)
    assert frame.mix
    rest = plan.outputs[1].rest
    events[405] = replace(frame, mix=BoardMix(frame.mix.guard, (frame.mix.wires[0], rest + 99)))

    parity = Parity(plan)
    found = parity.take(events[404:])

    assert [(each.sequence, each.signal, each.on_board) for each in found] == [
        (405, "output.right.wire", rest + 99)
    ]
    assert found[0].expected <= rest <= (found[0].most or 0) < rest + 99
    assert parity.mismatched == 1
    assert parity.compared + parity.passed_over == len(events[404:])


def test_a_late_tick_begins_the_comparison_anew() -> None:
    """The board's mix starts from its start state behind a late tick, and so does ours."""
    plan = cart_plan(tick_ms=20)
    before, after = as_on_board(plan, 100), as_on_board(plan, 50)
    parity = Parity(plan)
    assert parity.take([*before, BeganAnew(), *after]) == []
    assert (parity.compared, parity.passed_over) == (150, 0)


def test_a_board_without_this_mix_is_refused() -> None:
    """No mix, or one with other outputs, is a clear message."""
    parity = Parity(cart_plan())

    with pytest.raises(WrongDeviceError, match=r"^no mix runs on the board"):
        parity.take([Frame(0, 1, (3000,) * 3)])
    with pytest.raises(WrongDeviceError, match=r"mixes 3 channels to 1 outputs; cart has 3 and 2"):
        parity.take([Frame(0, 1, (3000,) * 3, 0, None, BoardMix(0, (1500,)))])
