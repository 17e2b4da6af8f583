"""Edits that outlive a crash, window by window."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from mixer.live.tuning.offers import Offer, Offers
from mixer.live.tuning.recovery import RecoveryFile
from mixer.live.tuning.tuning import Tuning
from mixer.profile.profile import load_profile
from tests.live.benches import ROOT, Bench

CHILD = """
import sys
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
sys.stdin.read()
"""


@contextmanager
def other_window(folder: Path) -> Iterator[None]:
    """A bench of another process with unsaved edits on both sides; killed at the end."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT, text=True,
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stdout.readline() == "edited\n"
    try:
        yield
    finally:
        os.kill(child.pid, signal.SIGKILL)
        child.communicate()


def killed_after_edits(folder: Path) -> None:
    """What such a window leaves."""
    with other_window(folder):
        pass


def offered(tuning: Tuning) -> Offer:
    """What is offered first."""
    found = Offers(tuning).next()
    assert found is not None
    return found


def edited_and_closed(folder: Path, value: float) -> Path:
    """A window that was left with an edit kept; its recovery file."""
    bench = Bench(folder)
    bench.session.tuning.set("shape.soft.expo", value)
    bench.session.close()
    return bench.session.tuning.recovery.path


def test_no_edit_is_lost_to_a_kill(tmp_path: Path) -> None:
    """Killed right after its last edit, a bench leaves both sides; the next start offers and takes them."""
    killed_after_edits(tmp_path)

    bench = Bench(tmp_path)
    tuning = bench.session.tuning
    found = offered(tuning)
    assert {side: [(c.key, c.now) for c in changes] for side, changes in found.changes.items()} == {
        "A": [("shape.soft.expo", 0.39), ("guard.lost_after_ms", 200)],
        "B": [("shape.dash.expo", 0.75)],
    }
    assert found.window == "a test"
    assert found.made
    assert not found.file_changed
    assert tuning.edits() == ()
    assert Offers(tuning).take(found) == ""
    assert Offers(tuning).next() is None
    assert (tuning.view().side, tuning.value("shape.dash.expo")) == ("B", 0.75)
    tuning.swap()
    assert (tuning.value("shape.soft.expo"), tuning.value("guard.lost_after_ms")) == (0.39, 200.0)
    tuning.undo()
    assert tuning.edits() == ()
    bench.session.close()


def test_an_open_window_is_seen_and_its_edits_are_its_own(tmp_path: Path) -> None:
    """While it lives it is told and nothing of it is offered; each keeps a file of its own."""
    with other_window(tmp_path):
        bench = Bench(tmp_path)
        tuning = bench.session.tuning
        assert [window.name for window in tuning.recovery.open_window.others()] == ["a test"]
        assert Offers(tuning).next() is None
        tuning.set("shape.soft.expo", 0.2)
        assert len(list(tmp_path.glob(".*.unsaved"))) == 2
        assert b"expo = 0.2" in tuning.recovery.path.read_bytes()
    assert tuning.recovery.open_window.others() == ()
    assert [change.now for change in offered(tuning).changes["B"]] == [0.75]
    assert [change.now for change in tuning.edits()] == [0.2]
    bench.session.close()
    assert list(tmp_path.glob(".*.window")) == []


def test_nothing_is_left_when_nothing_is_unsaved(bench: Bench) -> None:
    """Undone or saved, the recovery file is gone and nothing is offered."""
    tuning = bench.session.tuning
    kept = tuning.recovery.path
    tuning.set("shape.soft.expo", 0.6)
    assert kept.exists()
    tuning.undo()
    assert not kept.exists()
    tuning.redo()
    tuning.save()
    assert not kept.exists()
    bench.session.close()
    assert Offers(Bench(bench.path.parent).session.tuning).next() is None


def test_edits_of_several_windows_are_offered_one_after_another(tmp_path: Path) -> None:
    """The newest first; one put off is not asked again in this window and is there in the next."""
    older, newer = edited_and_closed(tmp_path, 0.6), edited_and_closed(tmp_path, 0.2)
    os.utime(older, (1, 1))
    offers = Offers(Bench(tmp_path).session.tuning)
    first = offers.next()
    assert first is not None
    assert first.path == newer
    offers.put_off(first)
    second = offers.next()
    assert second is not None
    assert second.path == older
    offers.throw_away(second)
    assert offers.next() is None
    assert (older.exists(), newer.exists()) == (False, True)
    assert offered(Bench(tmp_path).session.tuning).path == newer


def test_what_holds_no_difference_is_not_offered(tmp_path: Path) -> None:
    """Texts that say what the file said are cleared away: nothing is asked about nothing."""
    path = edited_and_closed(tmp_path, 0.6)
    profile = load_profile(tmp_path / "sample_carrier.toml")
    path.write_text(path.read_text(encoding="utf-8").replace("expo = 0.6", "expo = 0.4"), encoding="utf-8")
    assert profile.robot().shape["soft"].expo == 0.4
    assert Offers(Bench(tmp_path).session.tuning).next() is None
    assert not path.exists()


def test_an_offer_is_laid_over_a_file_that_has_changed_since(tmp_path: Path) -> None:
    """Somebody edited the profile after the crash: the offer says so, and taking it keeps their change."""
    edited_and_closed(tmp_path, 0.6)
    path = tmp_path / "sample_carrier.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("rate = 0.75", "rate = 0.5"), encoding="utf-8")
    tuning = Bench(tmp_path).session.tuning
    found = offered(tuning)
    assert found.file_changed
    assert Offers(tuning).take(found) == ""
    assert (tuning.value("shape.soft.expo"), tuning.value("shape.soft.rate")) == (0.6, 0.5)
    assert [change.key for change in tuning.edits()] == ["shape.soft.expo"]


def test_two_windows_cannot_both_take_an_offer(tmp_path: Path) -> None:
    """The second is told that the edits have gone."""
    edited_and_closed(tmp_path, 0.6)
    one, two = Bench(tmp_path).session.tuning, Bench(tmp_path).session.tuning
    found, same = offered(one), offered(two)
    assert Offers(one).take(found) == ""
    assert "another window" in Offers(two).take(same)
    assert two.edits() == ()


def test_thrown_away_edits_are_gone(bench: Bench) -> None:
    """On both sides, and nothing is offered again."""
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.6)
    tuning.swap()
    tuning.set("shape.soft.expo", 0.2)
    tuning.throw_away()
    assert tuning.view().saved
    assert tuning.value("shape.soft.expo") == 0.4
    bench.session.close()
    assert Offers(Bench(bench.path.parent).session.tuning).next() is None


@pytest.mark.parametrize(
    "torn", [b"", b"{", b'{"form": 99}', b'{"a": 2}', b"\xff\xfe", b"[1]", b"[" * 9999]
)
def test_a_torn_recovery_file_is_no_offer_and_no_crash(tmp_path: Path, torn: bytes) -> None:
    """It is left alone; the next edits have a file of their own."""
    path = edited_and_closed(tmp_path, 0.6)
    path.write_bytes(torn)
    again = Bench(tmp_path).session.tuning
    assert Offers(again).next() is None
    again.set("shape.soft.expo", 0.6)
    assert path.read_bytes() == torn


def test_edits_go_on_where_nothing_can_be_kept(tmp_path: Path) -> None:
    """A folder that cannot be written is told as a problem; the edit itself is taken."""
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    kept = RecoveryFile(tmp_path / "x.toml", blocked / "state")
    assert "cannot be seen" in kept.open_window.problem
    bench = Bench(tmp_path)
    bench.session.tuning.recovery = bench.session._recovery = kept
    assert bench.session.tuning.set("shape.soft.expo", 0.6) == ""
    assert "not kept through a crash" in kept.problem
    assert bench.words("edit")[-1] == kept.problem
