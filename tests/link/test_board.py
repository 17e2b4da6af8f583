"""The real firmware on a simulated board: what it measures, what it loses, and how it is read.

The pulse period is never a multiple of the board's clock: with one that is, all edges fall on the same
cycles and any error hides.
"""

from collections.abc import Callable, Iterator

import pytest

from mixer.board.chip.chip import Edge, Reset
from mixer.board.frames import Decoder, Event, Frame, Identity, Restarted
from mixer.link.serial_port import open_serial
from tests.lengths import cases
from tests.link.firmware import build_board
from tests.link.ptys import PtyFarEnd
from tests.link.reader_board import MHZ, Board, pulses

pytestmark = [pytest.mark.needs_tool(name) for name in ("avr-gcc", "gcc", "simavr")]

WIRES = [f"PB{pin}" for pin in range(4)] + [f"PC{pin}" for pin in range(4)]
PERIOD_US = 20_003.7
WIDTHS_US = (1000.0, 1500.0, 2000.0, 1234.5, 1750.0, 1100.0, 1900.0, 1503.3)

Track = Callable[[int], float]


def measured(rise: Track, width: Track, seconds: float = 3.0) -> list[float]:
    """Errors in µs of every width measured; `rise` and `width` give each channel's."""
    board = Board(build_board())
    tracks = [
        pulses(pin, lambda _, k=k: width(k), PERIOD_US, 5_000 + rise(k)) for k, pin in enumerate(WIRES)
    ]
    board.play(*tracks)
    board.run_seconds(seconds)
    events = Decoder().feed(board.take())
    board.close()
    frames = [event for event in events if isinstance(event, Frame)]
    assert len(frames) == round(seconds * 50) - 1
    assert {type(event) for event in events} == {Frame, Identity}
    errors = [frame.widths[k] / 2 - width(k) for frame in frames for k in range(8) if frame.widths[k]]
    assert len(errors) >= 8 * (seconds * 50 - 3), "pulses went missing"
    return errors


def within(errors: list[float], bound: float) -> bool:
    """Whether no error is larger."""
    return max(map(abs, errors)) <= bound


def test_staggered_channels_are_right_within_a_microsecond() -> None:
    """One channel after the other, as most receivers send them."""
    assert within(measured(lambda k: 2_200 * k, lambda k: WIDTHS_US[k]), 1.0)


def test_simultaneous_channels_are_right_within_a_microsecond() -> None:
    """All rises at once and all falls at once, on both ports."""
    assert within(measured(lambda _: 0, lambda _: 1500.0), 1.0)


def test_rising_together_with_distinct_falls() -> None:
    """All rises at once, falls well apart."""
    assert within(measured(lambda _: 0, lambda k: 1000.0 + 137.3 * k), 1.0)


@pytest.mark.parametrize("apart_us", [1, 2, 3, 5])
@pytest.mark.parametrize("what", ["falls", "rises and falls"])
def test_edges_a_few_microseconds_apart_are_right_within_four(apart_us: int, what: str) -> None:
    """The worst case: edges come while the interrupt for the one before still runs."""
    if what == "falls":
        errors = measured(lambda _: 0, lambda k: 1500.0 + apart_us * k)
    else:
        errors = measured(lambda k: apart_us * k, lambda k: 1500.0 - 2 * apart_us * k)

    assert within(errors, 4.0)


@pytest.mark.parametrize(
    ("frame_us", "pulses_us", "seconds"),
    cases([(20_000, PERIOD_US, 8)], [(20_000, PERIOD_US, 60), (10_000, 10_001.7, 60)]),
)
def test_no_frame_is_lost_for_long(frame_us: int, pulses_us: float, seconds: int) -> None:
    """At 50 and at 100 frames a second with all channels busy: every frame whole, in turn and in time."""
    board = Board(build_board(FRAME_US=frame_us))
    board.play(
        *[
            pulses(pin, lambda n, k=k: 1000 + (n * 7 + k * 131) % 1000, pulses_us, 3_000 + 400 * k)
            for k, pin in enumerate(WIRES)
        ]
    )
    board.run_seconds(seconds)
    events = Decoder().feed(board.take())
    board.close()

    frames = [event for event in events if isinstance(event, Frame)]
    said = [event for event in events if not isinstance(event, Frame)]
    assert said == [Identity("ATmega328P", "", said[0].started, "")] * (1 + len(frames) // 64)
    assert len(frames) >= seconds * 1_000_000 // frame_us - 2, "it says first who it is"
    assert [frame.time_us for frame in frames] == [(n + 1) * frame_us for n in range(len(frames))]
    assert sum(width == 0 for frame in frames[2:] for width in frame.widths) <= 8 * 30


def test_missing_pulses_contacts_and_battery_are_told() -> None:
    """A wire that stops is missing at once and the others stay; contacts and battery are what they are."""
    board = Board(build_board())
    for pin, level in enumerate((1, 0, 1, 1), start=4):
        board.set_pin(f"PD{pin}", level)
    board.chip.set_analog_mv("PC5", 2_000)
    board.play(
        pulses("PB0", lambda _: 1500, PERIOD_US, 6_000, number=25),
        pulses("PC3", lambda _: 1200, PERIOD_US, 6_000),
    )
    board.run_seconds(1)
    frames = [event for event in Decoder().feed(board.take()) if isinstance(event, Frame)]
    board.close()

    assert [frame.widths[0] > 0 for frame in frames] == [True] * 25 + [False] * (len(frames) - 25)
    assert all(frame.widths[7] in range(2398, 2403) for frame in frames)
    assert all(frame.widths[1:7] == (0,) * 6 for frame in frames)
    assert {frame.contacts for frame in frames} == {0b1101}
    assert frames[-1].battery_mv == pytest.approx(2_000 / 5_000 * 28_500, abs=30)


def test_a_wire_that_hangs_high_is_missing() -> None:
    """A wire stuck at high is no pulse, for seconds, and its next pulse is measured again."""
    board = Board(build_board())
    stuck = [Edge(round(5_000 * MHZ), "PB1", 1), Edge(2_000_123 * MHZ, "PB1", 0)]
    good = [Edge(2_100_000 * MHZ, "PB1", 1), Edge(2_101_500 * MHZ, "PB1", 0)]
    board.play(stuck + good)
    board.run_seconds(2.5)
    frames = [event for event in Decoder().feed(board.take()) if isinstance(event, Frame)]
    board.close()

    assert [frame.widths[1] for frame in frames if frame.widths[1]] == [pytest.approx(3000, abs=2)]


def sum_track(widths_us: list[float], period_us: float) -> Iterator[Edge]:
    """A pulse-sum wire: 300 µs pulses whose rises are the widths apart."""
    n = 0
    while True:
        at = 4_000 + n * period_us
        for width in [*widths_us, 0.0]:
            yield Edge(round(at * MHZ), "PB0", 1)
            yield Edge(round((at + 300) * MHZ), "PB0", 0)
            at += width
        n += 1


def test_pulse_sum_on_one_pin_is_right_within_a_microsecond() -> None:
    """Twelve channels on one wire, built for that."""
    widths = [1000 + 83.3 * k for k in range(12)]
    board = Board(build_board(PULSE_SUM=1, CHANNELS=12))
    board.play(sum_track(widths, 25_001.3))
    board.run_seconds(2)
    frames = [event for event in Decoder().feed(board.take()) if isinstance(event, Frame)]
    board.close()

    seen = [frame for frame in frames if any(frame.widths)]
    assert len(seen) >= 76
    for frame in seen:
        assert frame.widths == tuple(pytest.approx(2 * width, abs=2) for width in widths)


def test_a_hung_program_is_reset_by_the_watchdog() -> None:
    """When the main loop stops, the board starts anew, and the stream says so."""
    board = Board(build_board())
    board.run_seconds(1)
    before = board.take()
    board.chip.hang()
    board.run_seconds(0.3)
    decoder = Decoder()
    decoder.feed(before)
    events = decoder.feed(board.take())
    board.close()

    assert Restarted() in events
    assert Reset.WATCHDOG in {event.started for event in events if isinstance(event, Identity)}
    assert next(event for event in events if isinstance(event, Frame)).sequence == 0


@pytest.mark.needs_tool("serial")
def test_the_serial_line_is_read_through_a_pty_by_our_own_port() -> None:
    """Board, pty, pyserial, our port, our decoder: every frame of five seconds arrives."""
    board = Board(build_board())
    board.play(*[pulses(pin, lambda _: 1400, PERIOD_US, 3_000) for pin in WIRES])
    decoder = Decoder()
    events: list[Event] = []
    with PtyFarEnd() as far, open_serial(far.path) as port:
        for _ in range(250):
            board.run_seconds(0.02)
            sent = board.take()
            far.write(sent)
            got = b""
            while len(got) < len(sent):
                got += port.read(0.5)
            events += decoder.feed(got)
    board.close()

    assert all(isinstance(event, Frame | Identity) for event in events)
    assert len(events) >= 248


@pytest.mark.parametrize(
    "choices",
    [
        {"CHANNELS": 1, "CONTACTS": 0, "BATTERY_FULL_SCALE_MV": 0},
        {"CHANNELS": 8, "FRAME_US": 10_000, "BAUD": "500000UL"},
        {"CHANNELS": 16, "PULSE_SUM": 1, "CONTACTS": 1},
    ],
)
def test_every_choice_builds_without_a_warning_and_runs(choices: dict[str, int | str]) -> None:
    """Warnings are errors; the frames show what was chosen."""
    board = Board(build_board(**choices))
    board.run_seconds(0.2)
    frames = [event for event in Decoder().feed(board.take()) if isinstance(event, Frame)]
    board.close()

    assert len(frames) >= 9
    assert {len(frame.widths) for frame in frames} == {choices["CHANNELS"]}
    assert (frames[-1].battery_mv is None) == ("BATTERY_FULL_SCALE_MV" in choices)
