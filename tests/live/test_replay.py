"""A log as a source, with a transport."""

import random
import shutil
from pathlib import Path

import pytest

from mixer.errors import LogError
from mixer.live.inputs.replay import Replay
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import python_engine
from mixer.runs.play.start_state import start_state_path
from tests.lengths import cases
from tests.live.benches import LOGS, Bench

LOG = LOGS / "carrier_sweeps.csv"


def opened(bench: Bench, log: Path = LOG) -> Replay:
    """The bench with a log loaded."""
    bench.session.open_log(log)
    replay = bench.session.replay
    assert replay is not None
    return replay


def test_a_replayed_log_gives_what_the_command_line_gives(bench: Bench) -> None:
    """Signals of every tick equal an offline replay's, bit for bit."""
    replay = opened(bench)
    plan = bench.session.robot.plan
    expected = python_engine(plan).run(DriveLog(plan, LOG).inputs())
    for tick in range(2000):
        bench.session.step(1)
        assert list(bench.session.robot.signals) == expected[tick].tolist()
    assert replay.length_s == pytest.approx(len(expected) * 0.002)


def test_scrubbing_is_exact(bench: Bench) -> None:
    """Wherever one jumps to, firmware, watcher and body stand as after playing up to there."""
    replay = opened(bench, LOGS / "carrier_rough_ground.csv")
    rng, kept = random.Random(2), {}
    for tick in range(450, 5401, 450):
        bench.session.step(450)
        kept[tick] = bench.session.robot.saved
    for tick in rng.sample(sorted(kept), 6):
        replay.seek(tick * 0.002)
        assert bench.session.robot.saved == kept[tick]
        assert replay.position_s == pytest.approx(tick * 0.002)
    assert kept[5400].body != kept[2700].body
    bench.session.step(3)
    replay.seek(0.9)
    assert bench.session.robot.saved == kept[450]


def test_the_scout_runs_on_generated_code(bench: Bench, tmp_path: Path) -> None:
    """On the bench's, where that has one by then; else on its own, made before the first long way."""
    assert opened(bench)._board.is_quick
    folder = tmp_path / "slow"
    folder.mkdir()
    slow = Bench(folder, quick=False)
    replay = opened(slow)
    replay.seek(0.2)
    assert not replay._board.is_quick
    replay.seek(4.0)
    assert replay._board.is_quick
    plan = slow.session.robot.plan
    engine = python_engine(plan)
    engine.run(DriveLog(plan, LOG).inputs()[:2000])
    assert slow.session.robot.board.state == engine.state
    slow.session.close()


@pytest.mark.parametrize("speed", cases([0.1, 5.0], [1.0, 20.0]))
def test_speed(bench: Bench, speed: float) -> None:
    """Played for half a second of the clock, the log has moved on by so many times half a second."""
    replay = opened(bench)
    assert not bench.run(0.5).transport.playing
    assert replay.position_s == 0
    replay.set_speed(speed)
    replay.play()
    assert bench.run(0.5).transport.position_s == pytest.approx(0.5 * speed, abs=0.003)
    replay.pause()
    assert bench.run(0.5).transport.position_s == pytest.approx(0.5 * speed, abs=0.003)
    replay.set_speed(99.0)
    assert replay.speed == 20.0


def test_the_end_of_a_log_stops_it(bench: Bench, tmp_path: Path) -> None:
    """At its end it stands; play begins at its start again."""
    log = tmp_path / "short.csv"
    log.write_bytes(b"".join(LOG.read_bytes().splitlines(keepends=True)[:300]))
    replay = opened(bench, log)
    replay.seek(replay.length_s - 0.1)
    replay.play()
    ended = bench.run(1.0).transport
    assert (ended.ended, ended.playing) == (True, False)
    assert ended.position_s == pytest.approx(ended.length_s)
    bench.session.resume()
    assert 0 < bench.run(0.3).transport.position_s < 0.5


def test_jumping_to_what_happened(bench: Bench) -> None:
    """Each jump lands right behind a tick in which something changed; back again visits the same."""
    replay = opened(bench, LOGS / "carrier_rough_ground.csv")
    visited = []
    while replay.next_event() and len(visited) < 5:
        visited.append(replay.position_s)
    assert visited == sorted(set(visited))
    assert len(visited) >= 4
    first = visited[1]
    replay.seek(first - 0.002)
    before = bench.session.snapshot()
    bench.session.step(1)
    after = bench.session.snapshot()
    assert (before.guard, before.actuators) != (after.guard, after.actuators)
    replay.seek(visited[-1])
    back = [visited[-1]]
    while replay.previous_event() and len(back) < 5:
        back.append(replay.position_s)
    assert back[::-1][-len(visited) :] == visited[-len(back) :]


def test_another_tuning_on_the_same_log(bench: Bench) -> None:
    """Turned while it plays, a value is felt at once; scrubbed, the log runs with it from the start."""
    replay = opened(bench)
    replay.seek(5.0)
    assert bench.session.tuning.set("output.left_front.limit", 0.3) == ""
    assert bench.session.step(1).outputs[0].limit == 4915
    replay.seek(4.5)
    plan = bench.session.robot.plan
    engine = python_engine(plan)
    engine.run(DriveLog(plan, LOG).inputs()[:2048])
    replay.seek(2048 * 0.002)
    assert bench.session.robot.board.state == engine.state


def test_a_jump_is_no_event(bench: Bench) -> None:
    """Scrubbing from a live moment to a resting one is not logged as a change of the guard."""
    replay = opened(bench)
    replay.next_event()
    replay.next_event()
    bench.session.step(1)
    count = len(bench.words("guard"))
    replay.seek(0.004)
    bench.session.step(0)
    assert len(bench.words("guard")) == count


def test_a_log_that_cannot_be_read_leaves_everything_as_it_was(bench: Bench, tmp_path: Path) -> None:
    """The problem is raised in words; the hands stay the source."""
    bad = tmp_path / "bad.csv"
    bad.write_text("t_ms,throttle\r\n0,1500\r\n", encoding="utf-8")
    with pytest.raises(LogError, match="steering"):
        bench.session.open_log(bad)
    assert bench.session.replay is None
    assert bench.run(0.1).transport.mode == "hand"


def test_a_log_begins_in_the_state_beside_it(bench: Bench, tmp_path: Path) -> None:
    """One that starts in the middle of a drive is live at its first tick, with no rule broken."""
    bench.arm()
    bench.session.sticks.set("throttle", 0.6)
    bench.run(1.0)
    log = tmp_path / "middle.csv"
    bench.session.record(log)
    state = bench.session.robot.board.state
    bench.run(1.0)
    bench.session.recorder.stop()
    assert start_state_path(log).exists()
    opened(bench, log)
    assert bench.session.robot.board.state == state
    assert bench.session.step(1).guard.state == "live"
    assert bench.words("rule") == []


def test_a_recording_replays_to_the_same_bits(bench: Bench, tmp_path: Path) -> None:
    """Driven with faults in the middle, recorded, replayed: the same signals in every tick."""
    bench.arm()
    rng, log = random.Random(8), tmp_path / "bench.csv"
    bench.session.record(log)
    assert bench.session.snapshot().transport.recording == str(log)
    signals = []
    for number in range(60):
        bench.session.sticks.set(rng.choice(bench.session.sticks.names), rng.uniform(-1, 1))
        if number in (20, 40):
            bench.session.faults.toggle("spikes.40")
        if number in (30, 35):
            bench.session.faults.toggle("stuck-closed.left_in")
        for _ in range(rng.randint(1, 40)):
            bench.session.step(1)
            signals.append(tuple(bench.session.robot.signals))
    assert bench.session.recorder.stop() == log
    bench.session.faults.clear_all()
    replay = opened(bench, log)
    assert replay.length_s == pytest.approx(len(signals) * 0.002)
    for number, expected in enumerate(signals):
        bench.session.step(1)
        assert tuple(bench.session.robot.signals) == expected, number


def test_a_recording_is_on_disk_within_a_second(bench: Bench, tmp_path: Path) -> None:
    """What was driven a second ago can be read from a copy of the file that is still being written."""
    log = tmp_path / "running.csv"
    bench.session.record(log)
    bench.run(3.0)
    copy = tmp_path / "copy.csv"
    shutil.copy(log, copy)
    rows = copy.read_text(encoding="utf-8").splitlines()
    assert float(rows[-1].partition(",")[0]) > 2000
    bench.session.recorder.stop()


def test_faults_stay_on_over_a_jump(bench: Bench) -> None:
    """A lost radio is lost again after a scrub, from there on."""
    replay = opened(bench)
    bench.session.faults.inject("all-lost")
    bench.session.step(200)
    assert bench.session.snapshot().guard.state in ("searching", "stopped")
    replay.seek(5.0)
    assert bench.session.snapshot().guard.signal
    assert not bench.session.step(200).guard.signal


def test_a_fault_begins_anew_after_a_jump(bench: Bench) -> None:
    """A reset that comes once at its onset comes once more after a scrub, and only then."""
    replay = opened(bench)
    bench.session.faults.inject("reset")
    bench.session.step(100)
    assert bench.words("fault").count("the board starts anew") == 1
    replay.seek(5.0)
    bench.session.step(100)
    assert bench.words("fault").count("the board starts anew") == 2
