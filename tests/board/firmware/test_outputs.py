"""What the firmware of an ATmega328P drives, edge by edge: whole pulses, and turns that no bridge minds.

The chip is simulated, its compare outputs as the data sheet has them (`avr_pwm.c`). Nothing is
claimed about pads, levels and times on silicon.
"""

import random
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import Decoder, Frame
from tests.board.firmware.whole import ALL_KINDS, BRIDGES, MS, US, Whole, wiring
from tests.lengths import cases

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

PERIOD = 510
"""Cycles of a duty period: 255 counts up, 255 down (data sheet 15.7.4)."""
CHANNELS = ("PC0", "PC1", "PC2", "PC3", "PB0")


def drawn_wires(number: int, seed: int) -> Iterator[tuple[int, ...]]:
    """Commands as wild as an output takes them: full, none, small, either way round, changing each tick."""
    draw = random.Random(seed)
    for _ in range(number):
        duties = (draw.choice((0, 1, -1, 254, 255, -255, draw.randint(-255, 255))) for _ in range(4))
        yield (draw.randint(800, 2200), draw.randint(800, 2200), *duties)


def driven(number: int, seed: int = 1) -> tuple[Whole, list[tuple[int, ...]], int]:
    """A board through so many ticks of drawn commands; the commands, and from which cycle they count."""
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS), seed)
    board.run_ms(30)
    since, given = board.chip.cycle, list(drawn_wires(number, seed))
    for wires in given:
        board.wires(*wires)
        board.run_ms(5)
    return board, given, since


@pytest.mark.parametrize("ticks", cases([300], [4_000]))
def test_every_servo_pulse_is_one_that_was_commanded(ticks: int) -> None:
    """Whole to the cycle and 20 ms apart, while the width changes four times in each period."""
    board, given, since = driven(ticks)
    for at, pin in enumerate(("PB1", "PB2")):
        pulses = board.highs(pin, since + 20 * MS)
        asked = {US * wires[at] for wires in given}

        assert {width for _, width in pulses} <= asked
        assert {b - a for (a, _), (b, _) in pairwise(pulses)} == {20 * MS}
        assert len(pulses) >= ticks // 4 - 3


@pytest.mark.parametrize("ticks", cases([150], [2_000]))
def test_every_duty_pulse_is_one_that_was_commanded(ticks: int) -> None:
    """No runt, no spike at 0, no gap at 255: each pulse is 2 cycles a count, or none, or all the time."""
    board, given, since = driven(ticks, seed=2)
    for at, pin in enumerate(("PB3", "PD3", "PD5", "PD6"), start=2):
        asked = {abs(wires[at]) for wires in given}
        for rise, high in board.highs(pin, since + 5 * MS):
            if high < PERIOD:
                assert high % 2 == 0
                assert high // 2 in asked, f"{pin} was high for {high} cycles at {rise}"
            else:  # all the time, and half of a pulse to either side at most
                assert 255 in asked


def last_before(edges: Sequence[Edge], cycle: int) -> Edge:
    """The edge that made the level at a cycle."""
    return edges[bisect_right(edges, cycle, key=lambda edge: edge.cycle) - 1]


@pytest.mark.parametrize("ticks", cases([150], [2_000]))
def test_no_direction_changes_under_a_running_duty(ticks: int) -> None:
    """At each change of a direction its duty pin is low, and has been for half a period or longer."""
    board, _, since = driven(ticks, seed=3)
    turns = 0
    for _, pin, direction, *_ in ALL_KINDS[2:]:
        duty = board.on(pin)
        for turn in board.on(direction, since):
            before = last_before(duty, turn.cycle)
            turns += 1
            assert before.level == 0
            assert turn.cycle - before.cycle >= PERIOD // 2, f"{direction} turned at {turn.cycle}"

    assert turns > ticks


@pytest.mark.parametrize(("hz", "cycles"), [(31_373, 2), (3_922, 16)])
def test_a_builder_chooses_how_fast_a_bridge_switches(hz: int, cycles: int) -> None:
    """The same share of the time, in 510 or 4,080 cycles; and a direction waits two of those periods."""
    board = Whole(wiring(ALL_KINDS), DUTY_HZ=hz)
    board.run_ms(30)
    board.wires(1500, 1000, 40, 0, 0, 0)
    board.run_ms(20)
    asked = board.chip.cycle
    board.wires(1500, 1000, -40, 0, 0, 0)
    board.run_ms(20)
    pulses, (turn,) = board.highs("PB3"), board.on("PD4", asked)

    assert {high for _, high in pulses[1:]} == {40 * cycles}
    steps = [b - a for (a, _), (b, _) in pairwise(pulses)]
    assert sorted(steps)[len(steps) // 2] == 255 * cycles == pytest.approx(16e6 / hz, rel=2e-4)
    before = last_before(board.on("PB3"), turn.cycle)
    assert before.level == 0
    assert turn.cycle - before.cycle >= 255 * cycles // 2


def test_a_direction_turns_soon() -> None:
    """Full one way, then full the other way: at rest for some tenths of a millisecond, no longer."""
    board = Whole(wiring(ALL_KINDS))
    board.run_ms(30)
    board.wires(1500, 1000, 0, 0, 0, 255)
    board.run_ms(20)
    asked = board.chip.cycle
    board.wires(1500, 1000, 0, 0, 0, -255)
    board.run_ms(20)
    (fall, rise) = board.on("PD6", asked)
    (turn,) = board.on("PC5", asked)

    assert (fall.level, turn.level, rise.level) == (0, 1, 1)
    assert fall.cycle + PERIOD // 2 <= turn.cycle < rise.cycle <= fall.cycle + 6_000


def held(board: Whole, pin: str, since: int) -> float:
    """The share of time for which a pin is high, over whole periods."""
    end = since + 100 * PERIOD
    level, at, high = last_before(board.on(pin), since).level, since, 0
    for edge in [*board.on(pin, since), Edge(end, pin, 0)]:
        if edge.cycle > end:
            break
        high += (edge.cycle - at) * (level == 1)
        level, at = edge.level, edge.cycle
    return (high + (end - at) * (level == 1)) / (end - since)


@pytest.mark.parametrize("wire", [0, 1, 100, 255, -1, -100, -255])
def test_a_bridge_with_two_inputs_does_at_zero_what_the_profile_says(wire: int) -> None:
    """The share that is not driven coasts, both inputs low, or brakes, both high."""
    board = Whole(wiring(BRIDGES))
    board.run_ms(30)
    board.wires(wire, wire)
    board.run_ms(25)
    since = board.chip.cycle
    board.run_ms(5)
    share = abs(wire) / 255
    forward, back = (0, 1) if wire < 0 else (1, 0)
    coasting = [held(board, pin, since) for pin in ("PD6", "PD5")]
    braking = [held(board, pin, since) for pin in ("PB3", "PD3")]

    assert coasting == pytest.approx([share * forward, share * back])
    assert braking == pytest.approx([1 - share * back, 1 - share * forward])


def test_a_bridge_with_two_inputs_rests_before_it_turns() -> None:
    """Never driven one way within half a period of the other: both inputs are alike in between."""
    board = Whole(wiring(BRIDGES))
    board.run_ms(30)
    draw, since = random.Random(4), board.chip.cycle
    for _ in range(150):
        board.wires(draw.choice((255, -255, draw.randint(-255, 255))), draw.randint(-255, 255))
        board.run_ms(5)
    for a, b in (("PD6", "PD5"), ("PB3", "PD3")):
        levels, way, left, turns = {a: 0, b: 0}, 0, 0, 0
        for edge in sorted([*board.on(a), *board.on(b)]):
            now = levels[a] - levels[b]
            if now:
                left = edge.cycle
            levels[edge.pin] = edge.level
            then = levels[a] - levels[b]
            if edge.cycle > since and then and way and then != way:
                turns += 1
                assert edge.cycle - left >= PERIOD // 2, f"{a}, {b} at {edge.cycle}"
            way = then or way

        assert turns > 30


def beside(board: Whole, number: int, seed: int) -> tuple[list[Edge], list[list[float]]]:
    """Channel pulses with edges within 6 µs of the servo pulses' own, each time elsewhere; widths in µs."""
    rise = [edge.cycle for edge in board.on("PB1") if edge.level == 1][-1]
    draw, edges, widths = random.Random(seed), [], []
    for n in range(1, number + 1):
        begin, row = rise + n * 20 * MS, []
        for pin in CHANNELS:
            up = begin + draw.randint(-6 * US, 6 * US)
            down = begin + 1500 * US + draw.randint(-6 * US, 6 * US)
            edges += [Edge(up, pin, 1), Edge(down, pin, 0)]
            row.append((down - up) / US)
        widths.append(row)
    return sorted(edges), widths


@pytest.mark.parametrize("number", cases([80], [1_500]))
def test_servo_pulses_and_reading_do_not_disturb_each_other(number: int) -> None:
    """Every channel edge falls upon a servo edge, give or take 6 µs: pulses stay whole, widths within 4 µs.

    Five edges in so short a time are the reader's worst case, with or without outputs.
    """
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS))
    board.run_ms(45)
    board.wires(1500, 1500, 20, -20, 100, -100)
    board.run_ms(20)
    edges, widths = beside(board, number, seed=5)
    since = board.chip.cycle
    board.run_to(since + (number + 2) * 20 * MS, edges)
    frames = [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)]
    read = [frame.widths for frame in frames if all(frame.widths)]

    assert {width for pin in ("PB1", "PB2") for _, width in board.highs(pin, since)} == {1500 * US}
    assert len(read) == number
    errors = [
        half / 2 - true
        for row, trues in zip(read, widths, strict=True)
        for half, true in zip(row, trues, strict=True)
    ]
    assert max(map(abs, errors)) <= 4.0


@pytest.mark.parametrize("seconds", cases([2], [30]))
def test_single_edges_are_read_within_a_microsecond_while_everything_runs(seconds: int) -> None:
    """Staggered channels, six outputs that change each tick, frames as fast as they go: within 1 µs."""
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS))
    true = [1000.0, 1234.5, 1503.3, 1750.0, 2000.0]
    edges = sorted(
        Edge(round((50_000 + n * 20_003.7 + 2_300 * k + up * true[k]) * US), pin, 1 - up)
        for n in range(seconds * 50 - 5)
        for k, pin in enumerate(CHANNELS)
        for up in (0, 1)
    )
    board.run_to(40 * MS, edges)
    for wires in drawn_wires(seconds * 200 - 10, seed=6):
        board.wires(*wires)
        board.run_ms(5)
    frames = [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)]
    errors = [half / 2 - true[k] for frame in frames for k, half in enumerate(frame.widths) if half]

    assert len(errors) >= 5 * (seconds * 50 - 8)
    assert max(map(abs, errors)) <= 1.0


@pytest.mark.parametrize("number", cases([120], [2_000]))
def test_bursts_of_edges_leave_every_reading_of_the_clock_whole(number: int) -> None:
    """Edges while others are being taken: an interrupt between the halves of the counter costs nothing.

    A tick may come amid a burst: then its last pulses are in the next frame. Without the second reading of
    `hal_now`, 4 of 1,500 such bursts were lost or 128 µs off.
    """
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS))
    board.run_ms(45)
    draw, edges, widths, at = random.Random(9), [], [], 60 * MS
    for _ in range(number):
        ups = [at + draw.randint(0, 40 * US) for _ in CHANNELS]
        downs = [at + 1500 * US + draw.randint(0, 40 * US) for _ in CHANNELS]
        edges += [Edge(up, pin, 1) for pin, up in zip(CHANNELS, ups, strict=True)]
        edges += [Edge(down, pin, 0) for pin, down in zip(CHANNELS, downs, strict=True)]
        widths.append([(down - up) / US for up, down in zip(ups, downs, strict=True)])
        at += 10 * MS + draw.randint(0, 3000 * US)
    board.run_to(at + 20 * MS, sorted(edges))
    frames = [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)]
    for channel in range(len(CHANNELS)):
        read = [frame.widths[channel] for frame in frames if frame.widths[channel]]
        assert len(read) == number
        errors = [half / 2 - row[channel] for half, row in zip(read, widths, strict=True)]
        assert max(map(abs, errors)) <= 4.0


@pytest.mark.parametrize("ticks", cases([150], [2_000]))
def test_noise_on_a_channel_leaves_every_servo_pulse_whole(ticks: int) -> None:
    """Edges as fast as the chip takes them while new widths are written, byte by byte.

    With interrupts allowed between the two, pulses come out with the upper half of the clock in them.
    """
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS))
    board.run_ms(50)
    draw, given, level = random.Random(10), [], 0
    for _ in range(ticks):
        given.append((draw.randint(800, 2200), draw.randint(800, 2200)))
        board.wires(*given[-1], 0, 0, 0, 0)
        tick = board.highs("PB5")[-1][0] + 5 * MS
        burst, at = [], max(tick - 20 * US, board.chip.cycle + 1)
        while at < tick + 500 * US:
            level = 1 - level
            burst.append(Edge(at, "PC3", level))
            at += draw.randint(50, 90)
        board.run_to(tick + 3 * MS, burst)
    asked = {US * width for pair in given for width in pair}

    for pin in ("PB1", "PB2"):
        pulses = board.highs(pin, 100 * MS)
        assert {width for _, width in pulses} <= asked
        assert {b - a for (a, _), (b, _) in pairwise(pulses)} == {20 * MS}
