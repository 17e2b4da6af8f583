"""The event log."""

import csv
from pathlib import Path

import pytest

from mixer.errors import StickwrightError
from mixer.live.listen.events import EventLog
from tests.live.benches import Bench


def test_memory_is_bounded_and_numbers_are_not_reused() -> None:
    """Of a hundred thousand events the newest are known, under their own numbers."""
    log = EventLog(most=50)
    for number in range(100_000):
        log.add(number / 10, "guard", f"event {number}")
    assert log.count == 100_000
    assert [event.number for event in log.since(0)] == list(range(99_950, 100_000))
    assert [event.number for event in log.since(99_998)] == [99_998, 99_999]
    assert log.since(100_000) == ()
    assert [event.words for event in log.newest(1)] == ["event 99999"]


def test_saved_events_can_be_read_as_a_table(tmp_path: Path) -> None:
    """RFC 4180: commas and quotes in words survive; times have three places."""
    log = EventLog()
    log.add(1.25, "edit", 'said "no, never"', "warn")
    path = tmp_path / "events.csv"
    log.save(path)
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    assert rows == [["t_s", "kind", "level", "what"], ["1.250", "edit", "warn", 'said "no, never"']]
    with pytest.raises(StickwrightError, match="cannot be written"):
        log.save(tmp_path / "none" / "events.csv")


def test_a_drive_is_told_in_order(bench: Bench) -> None:
    """Signal, guard, loss and return, with rising times."""
    bench.arm()
    bench.session.faults.inject("all-lost")
    bench.run(0.5)
    bench.session.faults.clear_all()
    bench.run(0.3)
    assert bench.words("guard") == [
        "guard: searching -> resting",
        "guard: resting -> live",
        "guard: live -> stopped",
        "guard: stopped -> resting",
    ]
    assert [words.partition(" on")[0] for words in bench.words("signal")] == [
        "signal",
        "no signal",
        "signal",
    ]
    times = [event.time_s for event in bench.session.events.since(0)]
    assert times == sorted(times)
