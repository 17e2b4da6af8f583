"""Wall time in, ticks out."""

import random

import pytest

from mixer.live.bench.pace import MOST_CATCH_UP_S, Pace


def test_no_drift_over_ten_minutes() -> None:
    """At uneven frames, the ticks after ten minutes are those of the clock, to within one."""
    rng = random.Random(3)
    pace, now, ticks = Pace(0.002, 1000.0), 1000.0, 0
    while now < 1600.0:
        now += rng.uniform(0.001, 0.09)
        ticks += pace.due(now)
        assert abs(ticks * 0.002 - (now - 1000.0)) <= 0.002 + 1e-9
    assert pace.skipped_s == 0.0


def test_a_stall_is_cut_short_and_told() -> None:
    """After ten seconds asleep a tenth is made up, the rest is counted as left out, and time goes on."""
    pace = Pace(0.002, 0.0)
    assert pace.due(10.0) == round(MOST_CATCH_UP_S / 0.002)
    assert pace.skipped_now_s == pytest.approx(9.9)
    assert pace.due(10.02) == 10
    assert pace.skipped_now_s == 0.0
    assert pace.skipped_s == pytest.approx(9.9)


@pytest.mark.parametrize("speed", [0.1, 0.5, 3.0, 20.0])
def test_other_speeds_keep_their_ratio(speed: float) -> None:
    """Over a minute of even frames, ticks come at the speed asked for, without anything skipped."""
    pace = Pace(0.002, 0.0)
    ticks = sum(pace.due(frame / 30, speed) for frame in range(1, 1801))
    assert ticks * 0.002 == pytest.approx(60 * speed, abs=0.0021)
    assert pace.skipped_s == 0.0


def test_standing_still_owes_nothing() -> None:
    """Speed 0 for an hour, or a clock set back, leaves nothing to make up."""
    pace = Pace(0.002, 0.0)
    assert pace.due(3600.0, 0.0) == 0
    assert pace.due(3000.0) == 0
    assert pace.due(3000.02) == 10
    assert pace.skipped_s == 0.0
