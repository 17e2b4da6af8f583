"""Edits that outlive a crash."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from mixer.live.tuning.recovery import RecoveryFile, recovery_path
from tests.live.benches import ROOT, Bench

CHILD = """
import sys, time
from pathlib import Path
from tests.live.benches import Bench
bench = Bench(Path(sys.argv[1]))
tuning = bench.session.tuning
for number in range(1, 40):
    assert tuning.set("shape.soft.expo", number / 100, drag=number > 1) == ""
tuning.set("guard.lost_after_ms", 200.0)
tuning.swap()
tuning.set("shape.dash.expo", 0.75)
print("edited", flush=True)
time.sleep(60)
"""


def test_no_edit_is_lost_to_a_kill(tmp_path: Path) -> None:
    """Killed right after its last edit, a bench leaves both sides; the next start offers and takes them."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(tmp_path)], stdout=subprocess.PIPE, cwd=ROOT, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "edited\n"
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    child.stdout.close()

    bench = Bench(tmp_path)
    tuning = bench.session.tuning
    offered = tuning.recovered()
    assert offered is not None
    assert [(change.key, change.now) for change in offered.changes] == [("shape.dash.expo", 0.75)]
    assert not offered.file_changed
    assert tuning.changes() == ()
    assert tuning.settle_recovered(take=True) == "recovered"
    assert tuning.recovered() is None
    assert (tuning.view().side, tuning.value("shape.dash.expo")) == ("B", 0.75)
    tuning.swap()
    assert (tuning.value("shape.soft.expo"), tuning.value("guard.lost_after_ms")) == (0.39, 200.0)
    tuning.undo()
    assert tuning.changes() == ()
    bench.session.close()


def test_nothing_is_left_when_nothing_is_unsaved(bench: Bench) -> None:
    """Undone, or saved on both sides, the recovery file is gone and nothing is offered."""
    kept = recovery_path(bench.path, None)
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.6)
    assert kept.exists()
    tuning.undo()
    assert not kept.exists()
    tuning.redo()
    tuning.copy_across()
    tuning.save()
    assert not kept.exists()
    assert Bench(bench.path.parent).session.tuning.recovered() is None


def test_an_offer_nobody_decided_about_is_set_aside(tmp_path: Path) -> None:
    """The first edit of the new run does not overwrite what the old one left."""
    first = Bench(tmp_path)
    first.session.tuning.set("shape.soft.expo", 0.6)
    kept = recovery_path(first.path, None)
    was = kept.read_bytes()
    second = Bench(tmp_path)
    second.session.tuning.set("shape.soft.expo", 0.2)
    assert kept.with_name(f"{kept.name}.1").read_bytes() == was
    assert b"expo = 0.2" in kept.read_bytes()


def test_given_up_edits_are_gone(tmp_path: Path) -> None:
    """Declined once, they are not offered again."""
    Bench(tmp_path).session.tuning.set("shape.soft.expo", 0.6)
    second = Bench(tmp_path)
    second.session.tuning.settle_recovered(take=False)
    assert Bench(tmp_path).session.tuning.recovered() is None


def test_the_offer_says_when_the_file_has_changed_since(tmp_path: Path) -> None:
    """Somebody edited the profile after the crash: the offer stands and says so."""
    first = Bench(tmp_path)
    first.session.tuning.set("shape.soft.expo", 0.6)
    first.path.write_text(first.path.read_text(encoding="utf-8") + "# later\n", encoding="utf-8")
    offered = Bench(tmp_path).session.tuning.recovered()
    assert offered is not None
    assert offered.file_changed


@pytest.mark.parametrize("torn", [b"", b"{", b'{"form": 99}', b'{"form": 1, "a": 2}', b"\xff\xfe", b"[1]"])
def test_a_torn_recovery_file_is_no_offer_and_no_crash(tmp_path: Path, torn: bytes) -> None:
    """It is left alone, and set aside by the first edit."""
    bench = Bench(tmp_path)
    kept = recovery_path(bench.path, None)
    kept.write_bytes(torn)
    again = Bench(tmp_path)
    assert again.session.tuning.recovered() is None
    again.session.tuning.set("shape.soft.expo", 0.6)
    assert RecoveryFile(kept).read() is not None
    assert kept.with_name(f"{kept.name}.1").read_bytes() == torn


def test_edits_go_on_where_nothing_can_be_kept(tmp_path: Path) -> None:
    """A folder that cannot be written is told as a problem; the edit itself is taken."""
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    kept = RecoveryFile(recovery_path(tmp_path / "x.toml", blocked / "state"))
    bench = Bench(tmp_path)
    bench.session.tuning._recovery = bench.session._recovery = kept
    assert bench.session.tuning.set("shape.soft.expo", 0.6) == ""
    assert "not kept through a crash" in kept.problem
    assert bench.words("edit")[-1] == kept.problem
