"""Slew, timers, latches and contact bounce against published definitions.

Slew: the discrete definition of the MathWorks block "Rate Limiter". Timers and latches: IEC 61131-3 TON,
TOF, SR and RS, whose state machines were checked row by row against the matiec library's. Bounce:
J. Ganssle, "A Guide to Debouncing": 16 switches bounced 1557 µs on average and 6200 µs at most; Festo
Didactic: mechanical micro limit switches take 1 to 15 ms to switch over.

Sampling: the standard's timer starts at the first sample with its edge and ends at the first sample at
which PT has gone by, so a PT of p scans needs p + 1 samples in a row. The core counts samples: p + 1 ticks.
"""

import random
from itertools import pairwise

import pytest

from mixer.core import drive, guard, intake, interlock
from mixer.core.guard import GuardState
from mixer.core.ops import ONE
from mixer.core.plan import ChannelPlan, ContactPlan, FlipPlan, Guard, SwitchPosition
from tests.plans import lift_plan, plain_guard, plain_output
from tests.published.tables import numbers_of, rows_of

TIMERS = numbers_of("iec61131_timers.csv")
SAMPLES = 50 // 10 + 1
"""PT of 50 ms at a scan of 10 ms, counted in samples."""


@pytest.mark.parametrize(
    ("rows", "up", "down"),
    [(range(18), 100, 160), (range(18, 34), 160, 100)],
    ids=["above zero", "below zero"],
)
def test_slew_follows_the_rate_limiter_on_either_side_of_zero(rows: range, up: int, down: int) -> None:
    """Rising 100, falling 160 a step. Ours counts away from and towards zero: below zero they swap."""
    table = [row for row in rows_of("slew_vectors.csv") if int(row["k"]) in rows]
    before = int(table[0]["y"])
    for row in table[1:]:
        before = drive.slew(plain_output("motor", (), up_step=up, down_step=down), int(row["u"]), before)
        assert before == int(row["y"])


def test_slew_stops_at_zero_where_the_rate_limiter_crosses() -> None:
    """The one step where the definitions part: 40 -> -120 there, 40 -> 0 -> -100 here."""
    plan = plain_output("motor", (), up_step=100, down_step=160)
    first = drive.slew(plan, -1000, 40)
    assert (first, drive.slew(plan, -1000, first)) == (0, -100)


def test_an_end_stop_opens_like_an_off_delay() -> None:
    """`contact_after` is TOF: closed at once, open when it has read open for PT, row by row."""
    contact, remaining = ContactPlan("stop", 1, SAMPLES), 0
    for row in TIMERS:
        closed, remaining = intake.contact_after(contact, row["IN"], remaining)
        assert closed == (row["TOF_Q"] == 1), row


def test_both_stops_become_a_fault_like_an_on_delay() -> None:
    """`both_closed` is TON of both stops, row by row."""
    plan, both = lift_plan(both_ticks=SAMPLES).actuators[0], 0
    for row in TIMERS:
        fault, both = interlock.both_closed(plan, row["IN"] == 1, True, both)
        assert fault == (row["TON_Q"] == 1), row


def test_a_channel_is_lost_like_an_on_delay() -> None:
    """The age reaches `lost_ticks` just when TON of "no good pulse" does, row by row."""
    channel, age = ChannelPlan("wire", 900, 2100, 1500, False), 0
    for row in TIMERS:
        _, age = intake.age_after(channel, 0 if row["IN"] else 1500, age, SAMPLES)
        assert (age >= SAMPLES) == (row["TON_Q"] == 1), row


def test_neutral_is_held_like_an_on_delay() -> None:
    """The guard's count of neutral ticks is full just when TON is, row by row."""
    plan, before = plain_guard(hold_ticks=SAMPLES), GuardState(Guard.SEARCHING, 0, 0, 0)
    for row in TIMERS:
        before, _ = guard.guard_after(plan, before, True, row["IN"] == 1, True, False)
        assert (before.held >= plan.hold_ticks) == (row["TON_Q"] == 1), row


def test_a_roll_over_settles_like_an_on_delay_in_both_directions() -> None:
    """Upside down once TON says so, upright again once TOF lets go, as it was in between, row by row."""
    flip, flipped, waited, expected = FlipPlan(0, SAMPLES), 0, 0, 0
    for row in TIMERS:
        flipped, waited = intake.flipped_after(flip, row["IN"] == 1, flipped, waited)
        expected = 1 if row["TON_Q"] else expected if row["TOF_Q"] else 0
        assert flipped == expected, row


@pytest.mark.parametrize("row", numbers_of("iec61131_latches.csv"), ids=str)
def test_latches(row: dict[str, int]) -> None:
    """A fault latch is set-dominant (SR); going live is reset-dominant (RS), reset being arm off."""
    fault, disarmed = row["S"] == 1, row["R"] == 1
    assert interlock.latch(fault, disarmed, row["Q_prev"]) == row["Q_SR"]
    was = Guard.LIVE if row["Q_prev"] else Guard.RESTING
    plan = plain_guard(arm=SwitchPosition(0, 0), hold_ticks=2)
    after, _ = guard.guard_after(plan, GuardState(was, 1, 1, 0), True, row["S"] == 1, row["R"] == 0, False)
    assert (after.state == Guard.LIVE) == (row["Q_RS"] == 1)


def bouncing(rng: random.Random, start_us: int, lasts_us: int, end_us: int, settles: int) -> list[int]:
    """Readings once a ms of a contact that moves at `start_us` and chatters for `lasts_us`."""
    edges, now, level = [], start_us, settles
    while now < start_us + lasts_us:
        edges.append((now, level))
        now += rng.randint(10, 900)
        level ^= 1
    edges.append((start_us + lasts_us, settles))
    readings = []
    for at in range(0, end_us, 1000):
        passed = [level for edge, level in edges if edge <= at]
        readings.append(passed[-1] if passed else 1 - settles)
    return readings


@pytest.mark.parametrize("lasts_us", [1557, 6200, 15_000, 20_000])
@pytest.mark.parametrize("seed", range(20))
def test_bounce_gives_one_edge_and_stops_at_the_first_touch(lasts_us: int, seed: int) -> None:
    """Closing: one edge, at the first sample that touches. Opening: one edge, after the bounce."""
    rng = random.Random(seed)
    contact = ContactPlan("stop", 1, release_ticks=lasts_us // 1000 + 2)
    plan = lift_plan().actuators[0]
    start_us = rng.randint(2000, 8000)
    readings = bouncing(rng, start_us, lasts_us, 40_000, settles=1)
    opening = bouncing(rng, start_us, lasts_us, 60_000, settles=0)
    remaining, closed_at = 0, []
    for reading in readings + opening:
        closed, remaining = intake.contact_after(contact, reading, remaining)
        closed_at.append(closed)
        high = interlock.allowed(plan, closed, False, 0, 0)[1]
        assert high == (0 if closed else ONE)
    edges = [number for number in range(1, len(closed_at)) if closed_at[number] != closed_at[number - 1]]
    last_touch = len(readings) + max(number for number, reading in enumerate(opening) if reading)
    assert edges == [readings.index(1), last_touch + contact.release_ticks]


def test_a_bounce_outlasting_its_release_time_chatters() -> None:
    """The test above can fail: with a release of one tick the same trains give many edges."""
    contact, remaining, seen = ContactPlan("stop", 1, 1), 0, []
    for reading in bouncing(random.Random(3), 3000, 20_000, 40_000, settles=1):
        closed, remaining = intake.contact_after(contact, reading, remaining)
        seen.append(closed)
    assert sum(a != b for a, b in pairwise(seen)) > 3
