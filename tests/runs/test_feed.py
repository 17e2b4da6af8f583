"""Rows at the firmware's tick."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mixer.runs.log.cells import NO_PULSE, NOT_READ, Row
from mixer.runs.log.notices import Notices
from mixer.runs.play.feed import Feed, feed
from tests.plans import tipper_plan
from tests.runs.drives import ROWS

P = (1500, 1600, 1700, 1000)


def test_pulse_in_its_own_tick_only() -> None:
    """With a tick of 2 ms, a pulse at 3.999 ms is in tick 1 and one at 4 ms in tick 2; nothing between."""
    rows = [Row(2, 0, P, (0, 0), None), Row(3, 3_999, P, (0, 0), None), Row(4, 8_000, P, (0, 0), None)]
    (chunk,) = feed(rows, tipper_plan())

    assert chunk.first_tick == 0
    assert chunk.inputs[:, :4].tolist() == [list(P), list(P), [0] * 4, [0] * 4, list(P)]
    assert chunk.inputs.dtype == np.int32


def test_first_row_is_tick_zero() -> None:
    """A log may begin at any time."""
    rows = [Row(2, 7_001_500, P, (0, 0), None), Row(3, 7_003_499, P, (0, 0), None)]
    (chunk,) = feed(rows, tipper_plan())

    assert len(chunk.inputs) == 1


def test_contacts_hold() -> None:
    """Contacts stand open before the first reading and keep their level until the next."""
    rows = [
        Row(2, 0, P, (NOT_READ, 1), None),
        Row(3, 4_000, P, (1, NOT_READ), None),
        Row(4, 8_000, P, (NOT_READ, 0), None),
    ]
    (chunk,) = feed(rows, tipper_plan())

    assert chunk.inputs[:, 4].tolist() == [0, 0, 1, 1, 1]
    assert chunk.inputs[:, 5].tolist() == [1, 1, 1, 1, 0]


def test_two_rows_in_one_tick() -> None:
    """The newer pulse wins, a missing one takes nothing away, and it is told once with a count."""
    notices = Notices("x.csv")
    rows = [
        Row(2, 0, P, (1, 0), None),
        Row(3, 500, (1550, NO_PULSE, 1750, 1000), (NOT_READ, 1), None),
        Row(4, 900, (1560, NO_PULSE, NO_PULSE, 1000), (NOT_READ, NOT_READ), None),
    ]
    (chunk,) = feed(rows, tipper_plan(), notices)

    assert chunk.inputs.tolist() == [[1560, 1600, 1750, 1000, 1, 1]]
    assert [str(n) for n in notices.listed()] == [
        "x.csv:3: two rows fall into one tick, the newer pulses win (2 times)"
    ]


def test_no_rows() -> None:
    """No rows, no chunks."""
    assert list(feed([], tipper_plan())) == []


@given(ROWS, st.integers(1, 50))
def test_cutting_changes_nothing(rows: list[Row], ticks: int) -> None:
    """However the log is cut into chunks, the inputs are the same, and each chunk follows the last."""
    (whole,) = feed(rows, tipper_plan(), chunk_ticks=10**6)
    parts = list(Feed(rows, tipper_plan(), chunk_ticks=ticks))

    assert np.array_equal(np.concatenate([part.inputs for part in parts]), whole.inputs)
    assert [part.first_tick for part in parts] == list(range(0, len(whole.inputs), ticks))


@given(ROWS)
def test_every_pulse_arrives_once(rows: list[Row]) -> None:
    """With rows further apart than a tick, as many pulses come out as went in."""
    spread = [row._replace(t_us=row.t_us * 5) for row in rows]
    inputs = np.concatenate([part.inputs for part in feed(spread, tipper_plan())])
    went_in = sorted(pulse for row in spread for pulse in row.pulses if pulse)

    assert sorted(inputs[:, :4][inputs[:, :4] > 0].tolist()) == went_in
