"""Recording what reaches the board."""

import io
from pathlib import Path

import numpy as np
import pytest

from mixer.errors import StickwrightError
from mixer.live.listen.recorder import Recorder
from mixer.live.robot.robot import build_of
from mixer.profile.profile import fingerprint_of, load_profile
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Stretch
from tests.live.benches import ROOT, Bench


def test_a_file_that_is_there_is_not_overwritten(bench: Bench, tmp_path: Path) -> None:
    """Nor is a folder made that is not there; both are said in words."""
    log = tmp_path / "there.csv"
    log.write_text("precious", encoding="utf-8")
    with pytest.raises(StickwrightError, match="there already"):
        bench.session.record(log)
    assert log.read_text(encoding="utf-8") == "precious"
    with pytest.raises(StickwrightError, match="cannot be written"):
        bench.session.record(tmp_path / "none" / "x.csv")
    assert bench.session.recorder.path is None


def test_a_full_disk_ends_the_recording_and_says_so(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bench goes on; the event log tells why the recording ended."""

    class Full(io.RawIOBase):
        """A file without room."""

        def write(self, data: object) -> int:
            """No room."""
            del data
            raise OSError(28, "No space left on device")

    bench.session.record(tmp_path / "full.csv")
    bench.session.recorder._file._file.close()
    monkeypatch.setattr(bench.session.recorder._file, "_file", Full())
    assert bench.run(2.0).transport.recording == ""
    assert any("No space left" in words for words in bench.words("session"))


def test_ticks_without_news_need_no_row(tmp_path: Path) -> None:
    """Of a second of ticks only those with a pulse or a changed contact are written, and the last."""
    build = build_of(load_profile(ROOT / "profiles" / "sample_carrier.toml"))
    robot = build.prepared.robot
    assert robot is not None
    plant = np.zeros((1, len(plant_columns(robot))))
    plant[0, plant_columns(robot).index("bus_v")] = 12.25
    nothing = np.zeros((1, 0), np.int32)
    recorder, log = Recorder(), tmp_path / "few.csv"
    recorder.start(log, build.plan, robot=robot)
    for tick in range(500):
        pulses = [1500] * 5 if tick % 10 == 3 else [0] * 5
        read = np.array([[*pulses, int(tick >= 77), 1, 0, 1]], np.int32)
        recorder.add(Stretch(tick, read, nothing, plant))
    recorder.stop()
    rows = log.read_text(encoding="utf-8").splitlines()
    assert rows[:2] == [f'# robot: "{build.plan.name}"', f'# tuning: "{fingerprint_of(build.plan)}"']
    times = [row.partition(",")[0] for row in rows[3:]]
    assert times == sorted({"0", "154", "998", *(str(tick * 2) for tick in range(3, 500, 10))}, key=int)
    assert rows[3] == "0,,,,,,0,1,0,1,12.25"
