"""What the firmware of an ATmega328P reads, on the pins that a wiring.h says."""

import random

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import Decoder, Frame, Identity
from tests.board.firmware.whole import ALL_KINDS, US, Whole, wiring

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

SERVOS = ALL_KINDS[:2]


def frames_of(board: Whole) -> list[Frame]:
    """Every frame so far."""
    return [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)]


def test_channels_are_where_the_wiring_says_and_one_without_a_wire_is_missing() -> None:
    """Five channels of which the third has no wire: the others read, it never."""
    pins = ("PB4", "PC4", "", "PB3", "PC1")
    board = Whole(wiring(SERVOS, channels=pins))
    edges = sorted(
        Edge(round((9_000 + n * 20_003.7 + 2_300 * k + after) * US), pin, level)
        for n in range(24)
        for k, pin in enumerate(pins)
        for after, level in ((0, 1), (1000 + 100 * k, 0))
        if pin
    )
    board.run_ms(500, edges)
    read = [frame.widths for frame in frames_of(board) if any(frame.widths)]

    for k, pin in enumerate(pins):
        seen = {widths[k] for widths in read} - {0}
        assert seen <= ({2 * (1000 + 100 * k) + off for off in (-1, 0, 1)} if pin else set())
        assert bool(seen) == bool(pin)


def test_pulse_sum_comes_in_on_the_pin_of_the_wiring() -> None:
    """Seven channels on PC5, nothing else read."""
    board = Whole(wiring(SERVOS, channels=("PC5",), PULSE_SUM=1, CHANNELS=7))
    true = [1000 + 150 * k for k in range(7)]
    edges = []
    for n in range(18):
        at = 9_000 + n * 25_001.3
        for width in (*true, 0):
            edges += [Edge(round(at * US), "PC5", 1), Edge(round((at + 300) * US), "PC5", 0)]
            at += width
    board.run_ms(480, edges)
    read = [frame.widths for frame in frames_of(board) if any(frame.widths)]

    assert len(read) >= 16
    for widths in read:
        assert widths == tuple(pytest.approx(2 * width, abs=2) for width in true)


def test_contacts_and_battery_are_where_the_wiring_says() -> None:
    """Three contacts on three ports with a gap between, all pulled up; the battery on a pin of its own."""
    board = Whole(
        wiring(
            SERVOS,
            channels=("PC0", "PC1"),
            CONTACTS=4,
            CONTACT_INPUT_PINS="{ 18, 0xFF, 4, 11 }",  # PD2, none, PB4, PC3
            BATTERY_FULL_SCALE_MV=20_000,
            BATTERY_PIN=12,
        )
    )
    board.chip.set_analog_mv("PC4", 2_500)
    board.run_ms(60)
    assert frames_of(board)[-1].contacts == 0b1101, "open, which reads high"
    board.run_ms(60, [Edge(board.chip.cycle + 1, "PD2", 0), Edge(board.chip.cycle + 2, "PC3", 0)])

    frame = frames_of(board)[-1]
    assert frame.contacts == 0b0100
    assert frame.battery_mv == pytest.approx(10_000, abs=30)


@pytest.mark.parametrize("baud", ["250000UL", "500000UL", "1000000UL"])
def test_who_the_board_is_never_costs_a_frame(baud: str) -> None:
    """Seven busy channels, ticks of 4 or 2 ms: it comes along where the line has time for both."""
    pins = ("PC0", "PC1", "PC2", "PC3", "PC4", "PB0", "PB4")
    board = Whole(wiring(SERVOS, tick_ms=4 if baud == "250000UL" else 2, channels=pins, BAUD=baud))
    edges = sorted(
        Edge(round((30_000 + n * 7_003.7 + 800 * k + after) * US), pin, level)
        for n in range(270)
        for k, pin in enumerate(pins)
        for after, level in ((0, 1), (1_000 + n % 700, 0))
    )
    board.run_to(board.chip.cycle + 1, edges)
    draw = random.Random(11)
    for _ in range(900):  # ticks of the same length would be easy
        board.chip.poke("tenths", bytes([draw.randint(0, 5), 0]))
        seen = board.run_ms(2)
        while [edge.level for edge in seen.edges if edge.pin == "PB5"][-1:] == [1]:
            seen = board.run_ms(1)  # not into a tick's work, which counts the tenths down itself
    events = Decoder().feed(bytes(board.sent))

    assert {type(event) for event in events} == {Frame, Identity}
    assert sum(isinstance(event, Identity) for event in events) > 3
