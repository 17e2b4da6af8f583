"""Recordings: what was sent is what is read back, and a crash or a full disk costs a second at most."""

import resource
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from mixer.board.frames import Frame, Lost, encode
from mixer.errors import WriteError, WrongDeviceError
from mixer.link.device_time import DeviceTime
from mixer.link.recorder import Recorder, record, recorder_for
from mixer.link.session import LinkSession
from mixer.runs.log.cells import Row
from mixer.runs.log.read import open_log
from tests.link.loopback import loopback_pair
from tests.plans import cart_plan

ROOT = Path(__file__).parents[2]


def frames(count: int, start_us: int = 2**32 - 300_000) -> list[Frame]:
    """Frames 20 ms and a bit apart, across the wrap of device time; each seventh throttle is missing."""
    return [
        Frame(
            n,
            (start_us + n * 20_011) & 0xFFFFFFFF,
            (0 if n % 7 == 6 else 2400 + n % 900, 3001, 4000),
            1,
            7421,
        )
        for n in range(count)
    ]


def read_rows(path: Path) -> list[Row]:
    """The log's rows, read for the small robot."""
    return list(open_log(path, cart_plan()).rows())


def test_a_recording_replays_as_it_was_sent(tmp_path: Path) -> None:
    """Device time to the µs, pulses, missing ones, contacts and volts come back from the file."""
    path = tmp_path / "drive.csv"
    sent = frames(400)
    with recorder_for(path, cart_plan()) as recorder:
        for frame in sent:
            recorder.take([frame, Lost(1)])

    rows = read_rows(path)
    assert [row.t_us for row in rows] == [n * 20_011 for n in range(400)]
    assert [row.pulses for row in rows] == [frame.pulses_us for frame in sent]
    assert {row.contacts for row in rows} == {(1,)}
    assert {row.volts for row in rows} == {7.421}


def test_time_goes_on_across_a_reset_of_the_board() -> None:
    """A clock that starts anew costs one period, never goes back, and is counted."""
    time_line = DeviceTime()
    moments = [time_line.at(Frame(0, at, ())) for at in (5_000_000, 5_020_000, 20_000, 40_000)]

    assert moments == [0, 20_000, 40_000, 60_000]
    assert time_line.resets == 1


def test_an_existing_log_is_kept(tmp_path: Path) -> None:
    """A recording never writes over another one unasked."""
    path = tmp_path / "drive.csv"
    path.write_text("mine")

    with pytest.raises(WriteError, match=r"drive\.csv is there already\n    remedy: "):
        Recorder(path, ["a"])
    assert path.read_text() == "mine"
    with Recorder(path, ["a"], overwrite=True):
        pass
    assert path.read_text() == "mine", "nothing came, so nothing is replaced"
    with Recorder(path, ["a"], overwrite=True) as recorder:
        recorder.take([Frame(0, 0, (3000,))])
    assert path.read_bytes() == b"t_ms,a,volts\r\n0,1500,\r\n"
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """A folder that is not there gives a message, not a traceback."""
    with pytest.raises(WriteError, match=r"cannot be written: No such file"):
        Recorder(tmp_path / "nowhere" / "drive.csv", ["a"])


def test_a_board_with_too_few_channels_is_refused(tmp_path: Path) -> None:
    """Missing wires are not made up."""
    with (
        recorder_for(tmp_path / "drive.csv", cart_plan()) as recorder,
        pytest.raises(WrongDeviceError, match=r"the board has 2 channels, this robot 3"),
    ):
        recorder.take([Frame(0, 0, (3000, 3000))])


def test_record_counts_and_stops_cleanly(tmp_path: Path) -> None:
    """The loop shows rows and losses as they come, and the file is whole when it is told to stop."""
    near, far = loopback_pair()
    sent = frames(60)
    far.write(b"".join(encode(frame) for frame in sent[:20] + sent[25:]))
    path = tmp_path / "drive.csv"

    last = record(LinkSession(lambda: near), recorder_for(path, cart_plan()), lambda *_: False)

    assert (last.rows, last.counts.frames, last.counts.lost) == (55, 55, 5)
    assert last.pulses_us == sent[-1].pulses_us
    assert len(read_rows(path)) == 55


RECORD_FOREVER = """
import sys, time
from pathlib import Path
from mixer.board.frames import Frame
from mixer.link.recorder import recorder_for
from tests.plans import cart_plan

recorder = recorder_for(Path(sys.argv[1]), cart_plan())
n = 0
while True:
    recorder.take([Frame(n & 0xFFFF, n * 20_000 & 0xFFFFFFFF, (3000, 3000, 2000), 1, 7400)])
    print(n, flush=True)
    n += 1
    time.sleep(0.002)
"""


def test_kill_9_costs_a_second_at_most(tmp_path: Path) -> None:
    """A recording process that is killed without warning has left all but the last second, readable."""
    path = tmp_path / "drive.csv"
    process = subprocess.Popen(
        [sys.executable, "-c", RECORD_FOREVER, str(path)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout
    for line in process.stdout:
        if int(line) >= 190:
            break
    process.send_signal(signal.SIGKILL)
    told = [line for line in process.stdout.read().split("\n") if line.isdigit()]
    process.wait()
    process.stdout.close()
    taken = int(told[-1]) + 1 if told else 191

    rows = read_rows(path)
    assert taken - len(rows) <= 50, "more than a second of 20 ms frames is missing"
    assert len(rows) > 100


def test_a_full_disk_is_told_and_leaves_whole_lines(tmp_path: Path) -> None:
    """When a file may not grow, the message says so, and what is there reads without a torn line."""
    path = tmp_path / "drive.csv"
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    recorder = recorder_for(path, cart_plan())
    taken = 0
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (3_333, limits[1]))
        with pytest.raises(WriteError, match=r"drive\.csv: .*; the log is whole"):  # noqa: PT012
            for frame in frames(1000):
                taken += 1
                recorder.take([frame])
        recorder.close()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, before)

    assert path.read_bytes().endswith(b"\r\n")
    rows = read_rows(path)
    assert taken - 50 <= len(rows) <= taken


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_no_space_at_all_is_told_at_once() -> None:
    """Even the header's failure is a message."""
    with pytest.raises(WriteError, match=r"/dev/full: No space left on device"):
        Recorder(Path("/dev/full"), ["a"], overwrite=True)


def test_rows_reach_the_file_while_recording(tmp_path: Path) -> None:
    """Half a second of device time is the most that waits in memory."""
    path = tmp_path / "drive.csv"
    recorder = recorder_for(path, cart_plan())
    for number, frame in enumerate(frames(200)):
        recorder.take([frame])
        written = path.read_bytes().count(b"\n") - 1
        assert number + 1 - written <= 26
    recorder.close()
