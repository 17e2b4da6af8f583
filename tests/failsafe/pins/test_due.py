"""When ticks were due, and what a board has read, by numbers made up for it."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.failsafe.pins.due import dues
from mixer.failsafe.pins.wires.carried import Pulse
from mixer.failsafe.pins.wires.readings import Known, reading
from mixer.profile.profile import load_profile

US, PERIOD = 16.0, 32_000
"""Cycles of a microsecond, and of a tick of 2 ms."""
CHANNEL = replace(
    load_profile(Path(__file__).parents[3] / "profiles" / "tank_pair.toml").plan().channels[0],
    good_low_us=900,
    good_high_us=2100,
)


def ticks_at(*ms: float) -> list[int]:
    """Cycles."""
    return [round(each * 1000 * US) for each in ms]


def anew(*ms: float, edges: tuple[float, ...] = (), resets: tuple[float, ...] = ()) -> list[int]:
    """The numbers of the ticks that were a whole one late."""
    found = dues(ticks_at(*ms), ticks_at(*resets), ticks_at(*edges), PERIOD, US)
    return [number for number, due in enumerate(found) if due.anew]


@pytest.mark.parametrize(
    ("last", "late"), [(6.0, False), (7.9, False), (8.0, False), (8.1, True), (12.0, True), (25.0, True)]
)
def test_late_is_a_whole_tick_after_it_was_due(last: float, late: bool) -> None:
    """The fourth tick is due at 6 ms, and a whole one late from 8 ms on."""
    assert anew(0, 2, 4, last) == ([3] if late else [])


def test_a_tick_is_due_by_those_before_it_and_not_by_when_it_came() -> None:
    """One that was late by 1.6 ms does not put off the next one: that is due 0.4 ms after it."""
    assert anew(0, 2, 5.6, 6, 8, 10.1) == []
    assert anew(0, 2, 5.6, 8.2) == [3]


def test_the_first_ticks_tell_when_those_after_them_are_due() -> None:
    """A round of the program may lie between due and begun; the earliest counts."""
    assert anew(0.2, 2.1, 4, 7.96) == []
    assert anew(0.2, 2.1, 4, 8.1) == [3]


def test_edges_may_keep_a_board_from_showing_that_it_looked_in_time() -> None:
    """By so much for each of them, and by half a tick at most."""
    flood = tuple(7 + number / 100 for number in range(300))
    assert anew(0, 2, 4, 8.3) == [3]
    assert anew(0, 2, 4, 8.3, edges=flood) == []
    assert anew(0, 2, 4, 9.1, edges=flood) == [3]


def test_a_reset_is_no_late_tick() -> None:
    """And from its first tick on others are due."""
    assert anew(0, 2, 30.7, 32.7, 36.2, resets=(3,)) == []
    assert anew(0, 2, 30.7, 32.7, 36.8, resets=(3,)) == [4]


@pytest.mark.parametrize(
    ("told", "flooded", "pulse", "known"),
    [
        (3001, False, 1501, Known.EXACT),
        (3001, True, 1501, Known.EXACT),
        (3010, False, 1500, Known.NEAR),
        (3010, True, 1500, Known.NEAR),
        (0, False, 1500, Known.NEAR),
        (0, True, 0, Known.EXACT),
        (None, False, 1500, Known.NEAR),
        (None, True, 1500, Known.UNKNOWN),
    ],
)
def test_only_in_a_flood_a_board_may_have_read_nothing(
    told: int | None, flooded: bool, pulse: int, known: Known
) -> None:
    """1500 µs were played: what a frame tells counts within a microsecond of that."""
    found = reading(CHANNEL, Pulse(0, 1, 1500.0, crowded=False), told, flooded=flooded)
    assert (found.pulse, found.known, found.dropped) == (pulse, known, flooded and told == 0)


@pytest.mark.parametrize(("told", "known"), [(None, None), (0, None), (3000, Known.NEAR)])
def test_nothing_played_is_nothing_read(told: int | None, known: Known | None) -> None:
    """Whatever the board says."""
    for flooded in (False, True):
        assert reading(CHANNEL, None, told, flooded=flooded)[:2] == (0, known)
