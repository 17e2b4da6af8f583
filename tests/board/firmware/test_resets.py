"""The firmware of an ATmega328P when nobody drives: power-up, reset, brown-out, a hang, a late tick.

The chip is simulated: what a supply does while it rises or falls, and that the watchdog's own clock is a
tenth off, it does not know.
"""

import random
import struct
from itertools import pairwise

import pytest

from mixer.board.chip.chip import UNDRIVEN, Edge, Reset
from mixer.board.frames import BeganAnew, Decoder, Event, Frame, Identity
from tests.board.firmware.whole import ALL_KINDS, BRIDGES, MS, US, Whole, wiring
from tests.lengths import cases

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

CHANNELS = ("PC0", "PC1", "PC2", "PC3", "PB0")
DUTIES = ("PB3", "PD3", "PD5", "PD6")
SERVOS = {"PB1": 1500, "PB2": 1000}
DRIVE = (1900, 1900, 200, -200, 255, -255)
WATCHDOG_MS = 64


def noise(until: int, seed: int) -> list[Edge]:
    """Edges on all channel wires, some of them a few µs apart, from power-up on."""
    draw, edges, at = random.Random(seed), [], 0
    while at < until:
        at += draw.choice((40, 200, 3_000, 30_000))
        edges.append(Edge(at, draw.choice(CHANNELS), draw.randint(0, 1)))
    return edges


def at_rest(board: Whole, since: int, until: int) -> None:
    """Every output's edges between two moments are those of rest, from floating or driven."""
    for pin, width in SERVOS.items():
        seen = [edge for edge in board.on(pin, since) if edge.cycle < until]
        assert {b.cycle - a.cycle for a, b in pairwise(seen) if a.level == 1} <= {width * US}
    for pin in DUTIES:
        assert {edge.level for edge in board.on(pin, since) if edge.cycle < until} <= {0, UNDRIVEN}


def driving() -> Whole:
    """A board that has driven everything for a while."""
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS))
    board.run_ms(30)
    board.wires(*DRIVE)
    board.run_ms(60)
    assert all(len(board.on(pin)) > 2 for pin in SERVOS)
    assert [edge.level for edge in board.on("PD5")][-1] == 1
    return board


def events_of(board: Whole) -> list[Event]:
    """What the line told."""
    return Decoder().feed(bytes(board.sent))


@pytest.mark.parametrize("seed", cases([1, 2, 3], range(4, 60)))
def test_from_power_up_on_everything_floats_and_then_rests(seed: int) -> None:
    """RAM random, noise on every channel wire: first inputs, then low, then whole pulses of rest."""
    board = Whole(wiring(ALL_KINDS, channels=CHANNELS), seed)
    board.run_ms(400, noise(390 * MS, seed))

    at_rest(board, 0, board.chip.cycle)
    for pin in (*SERVOS, *DUTIES):
        assert board.on(pin)[0].level == 0, "the first it shows is low"
    for pin in ("PD4", "PD7", "PB4", "PC5"):
        assert [edge.level for edge in board.on(pin)] == [0], "no direction moves"
    assert any(isinstance(event, Frame) for event in events_of(board))


def test_bridges_with_two_inputs_rest_from_power_up_on() -> None:
    """One low at both inputs for good; the other high at both from the first period on, both at once."""
    board = Whole(wiring(BRIDGES, channels=CHANNELS))
    board.run_ms(100)

    assert [edge.level for edge in board.on("PD6")] == [edge.level for edge in board.on("PD5")] == [0]
    braked = [[edge.cycle for edge in board.on(pin) if edge.level == 1] for pin in ("PB3", "PD3")]
    assert braked[0] == braked[1]
    assert len(braked[0]) == 1


@pytest.mark.parametrize("reason", [Reset.PIN, Reset.LOW_SUPPLY, Reset.POWER])
def test_a_reset_in_a_drive_lets_everything_float_and_then_rests(reason: Reset) -> None:
    """At once, while the reset is held; then the board says why, and rests until its mix drives."""
    board = driving()
    reset = board.chip.cycle
    board.chip.reset(reason, held=5 * MS)
    board.sent.clear()
    board.run_ms(200)

    for pin in (*SERVOS, *DUTIES, "PD4", "PD7", "PB4", "PC5"):
        let_go = board.on(pin, reset)
        assert (let_go[0].cycle, let_go[0].level) == (reset, UNDRIVEN)
        assert let_go[1].cycle >= reset + 5 * MS
        assert let_go[1].level == 0
    at_rest(board, reset, board.chip.cycle)
    (identity,) = (event for event in events_of(board) if isinstance(event, Identity))
    assert (identity.started, identity.wiring) == (reason, "3da13a33f4b7")


LOOPS = (
    "mix_tick",
    "frame_encode",
    "reader_take",
    "hal_next_edge",
    "hal_now",
    "hal_sleep",
    "hal_outputs",
    "mix_on_board",
)


@pytest.mark.parametrize("where", cases(["mix_tick", "hal_sleep"], LOOPS[1:5] + LOOPS[6:]))
def test_a_hang_anywhere_is_a_watchdog_reset(where: str) -> None:
    """What was driven goes on for 64 ms while interrupts still come; then all floats and rests."""
    board = driving()
    hung = board.chip.cycle
    board.chip.hang(where)
    board.sent.clear()
    seen = board.run_ms(400)
    ((reset, reason),) = seen.resets

    assert reason == Reset.WATCHDOG
    assert reset - hung <= (WATCHDOG_MS + 6) * MS
    assert board.on("PD5", hung)[0] == Edge(reset, "PD5", UNDRIVEN), "until then nothing new is driven"
    at_rest(board, reset, board.chip.cycle)
    first = next(event for event in events_of(board) if isinstance(event, Identity))
    assert first.started == Reset.WATCHDOG


def late_by(board: Whole, ms: float) -> None:
    """The next tick takes so long, or up to 3 % longer."""
    board.chip.poke("tenths", struct.pack("<H", round(ms * 10)))


@pytest.mark.parametrize(("tick_ms", "takes_ms"), [(2, 4.1), (5, 10.1), (20, 40.5), (25, 50.5)])
def test_a_tick_that_comes_a_whole_tick_late_stops_the_robot(tick_ms: int, takes_ms: float) -> None:
    """Outputs at rest, the mix begun anew, the line says so; also where it outlasts the clock's period."""
    board = Whole(wiring(ALL_KINDS, tick_ms=tick_ms, channels=CHANNELS))
    board.run_ms(40)
    board.wires(*DRIVE)
    board.run_ms(80)
    starts = board.chip.peek("starts")[0]
    asked = board.chip.cycle
    late_by(board, takes_ms)
    board.run_ms(tick_ms + takes_ms * 1.03 + tick_ms / 2)
    since = board.chip.cycle
    board.run_ms(3 * tick_ms + 40)

    assert board.chip.peek("starts")[0] == starts + 1
    at_rest(board, since + 20 * MS, board.chip.cycle)
    assert [edge.level for edge in board.on("PD5", asked)] == [0], "at rest, and for good"
    events = events_of(board)
    assert {event.started for event in events if isinstance(event, Identity)} == {
        Reset.POWER,
        Reset.POWER | 16,
    }
    assert events.count(BeganAnew()) == 1
    times = [event.time_us for event in events if isinstance(event, Frame)]
    assert times == sorted(times)


@pytest.mark.parametrize(("tick_ms", "takes_ms"), [(2, 3.6), (5, 9.0), (20, 38.0), (25, 47.5)])
def test_a_tick_that_is_less_late_is_caught_up_with(tick_ms: int, takes_ms: float) -> None:
    """Nothing begins anew, and the ticks come in their old rhythm again."""
    board = Whole(wiring(ALL_KINDS, tick_ms=tick_ms, channels=CHANNELS))
    board.run_ms(120)
    late_by(board, takes_ms)
    board.run_ms(8 * tick_ms)
    ticks = [rise for rise, _ in board.highs("PB5")]

    assert {event.started for event in events_of(board) if isinstance(event, Identity)} == {Reset.POWER}
    assert max(b - a for a, b in pairwise(ticks)) > takes_ms * MS, "the tick was not late"
    assert (ticks[-1] - ticks[0]) / (tick_ms * MS) == pytest.approx(len(ticks) - 1, abs=0.1)


def test_a_program_gone_astray_lets_go_and_rests() -> None:
    """A jump to address 0 resets nothing: the start itself lets every pin float, then they rest."""
    board = driving()
    astray = board.chip.cycle
    board.chip.poke("astray", b"\x01")
    board.sent.clear()
    seen = board.run_ms(100)

    assert seen.resets == []
    for pin in (*SERVOS, *DUTIES, "PD4", "PD7", "PB4", "PC5"):
        let_go = next(edge for edge in board.on(pin, astray) if edge.level == UNDRIVEN)
        rest = board.on(pin)
        assert let_go.cycle - astray < 7 * MS
        assert rest[rest.index(let_go) + 1].level == 0
        assert rest[rest.index(let_go) + 1].cycle > let_go.cycle
        at_rest(board, let_go.cycle, board.chip.cycle)
    identity = next(event for event in events_of(board) if isinstance(event, Identity))
    assert identity.started == 0, "it cannot tell"
