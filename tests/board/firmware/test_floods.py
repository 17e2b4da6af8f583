"""Noise on one channel's wire of an ATmega328P: what is lost is told, and no other channel reads wrong."""

import random
from collections.abc import Iterator
from itertools import pairwise

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import Decoder, Event, Frame, Identity
from tests.board.firmware.whole import ALL_KINDS, MS, US, Whole, wiring
from tests.lengths import cases

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

PINS = ("PC0", "PC1", "PC2", "PB0")
NOISY = "PC3"
TRUE = (1000.0, 1350.5, 1777.0, 2000.0)
ROOM = 64
"""Edges that the firmware keeps until they are taken."""


def pulses(seconds: float) -> Iterator[Edge]:
    """Four channels that a radio drives."""
    for n in range(int(seconds * 50) - 2):
        for k, (pin, width) in enumerate(zip(PINS, TRUE, strict=True)):
            up = 30_000 + n * 20_003.7 + 2_300 * k
            yield Edge(round(up * US), pin, 1)
            yield Edge(round((up + width) * US), pin, 0)


def burst(begin: int, number: int, apart: int, draw: random.Random) -> Iterator[Edge]:
    """So many edges of the wire with noise, so many cycles apart, and half as many more."""
    at = begin
    for n in range(number):
        yield Edge(at, NOISY, 1 - n % 2)
        at += apart + draw.randint(0, apart // 2)


def told(noise: list[Edge], seconds: float) -> tuple[Whole, list[Event]]:
    """A board that hears the radio and the noise; what its line said."""
    board = Whole(wiring(ALL_KINDS, channels=(*PINS, NOISY)))
    board.run_ms(1000 * seconds, sorted([*pulses(seconds), *noise]))
    return board, Decoder().feed(bytes(board.sent))


def read_of(events: list[Event]) -> list[tuple[int, ...]]:
    """Widths of the four channels, frame by frame."""
    return [event.widths[:4] for event in events if isinstance(event, Frame)]


def wrong(read: list[tuple[int, ...]], within_us: float) -> list[tuple[int, int]]:
    """Channels and widths that are neither right nor missing."""
    return [
        (k, width)
        for row in read
        for k, width in enumerate(row)
        if width and abs(width / 2 - TRUE[k]) > within_us
    ]


@pytest.mark.parametrize("number", [ROOM // 2, ROOM - 6])
def test_as_many_edges_as_there_is_room_for_are_no_flood(number: int) -> None:
    """They come at once, while a tick works, and are taken after it: nothing is told, nothing lost."""
    draw = random.Random(3)
    _, events = told(list(burst(402 * MS, number, 60, draw)), 0.7)
    said = [event for event in events if isinstance(event, Identity)]

    assert said
    assert not any(identity.flooded for identity in said)
    read = read_of(events)
    assert sum(bool(row[0]) for row in read) >= 30
    assert wrong(read, 5) == []


@pytest.mark.parametrize("seed", cases([1], range(2, 20)))
def test_more_edges_than_there_is_room_for_are_told(seed: int) -> None:
    """Half a second of noise: it says so, the other channels read right or not at all, then right."""
    draw = random.Random(seed)
    noise = [edge for n in range(100) for edge in burst((300 + 5 * n) * MS, 200, 52, draw)]
    board, events = told(noise, 1.2)
    said = [event.flooded for event in events if isinstance(event, Identity)]
    read = read_of(events)

    assert not said[0]
    assert said[-1]
    assert wrong(read, 45) == []  # while noise is stamped, what comes beside it waits its turn
    assert sum(bool(row[0]) for row in read[-60:]) >= 10
    assert wrong(read[-60:], 1) == []
    assert board.chip.peek("starts") == b"\x01", "the mix goes on, without pulses"


@pytest.mark.parametrize("apart", cases([24], [36, 46, 70]))
def test_noise_as_fast_as_the_chip_takes_it_is_told_and_makes_no_tick_late(apart: int) -> None:
    """Stamps leave it a fifth of its time: ticks go on, other channels read right or not at all."""
    draw = random.Random(5)
    board, events = told(list(burst(300 * MS, 300 * MS // apart, apart, draw)), 0.75)
    said = [event.flooded for event in events if isinstance(event, Identity)]
    ticks = [rise / MS for rise, _ in board.highs("PB5") if rise > 100 * MS]

    assert not said[0]
    assert said[-1]
    assert max(after - before for before, after in pairwise(ticks)) < 10
    assert board.chip.peek("starts") == b"\x01"
    during = [event for event in events if isinstance(event, Frame) and 320_000 < event.time_us < 580_000]
    assert during
    assert wrong(read_of(during), 45) == []
