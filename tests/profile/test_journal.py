"""The journal beside a profile: lines are added whole, read leniently, and never lost to another window."""

import threading
from pathlib import Path

import pytest

from mixer.errors import WriteError
from mixer.profile.journal import BY_HAND, READ_BYTES, Entry, entries, journal_of, note


def test_what_is_noted_is_read_again(tmp_path: Path) -> None:
    """Time, fingerprint and words; tabs and line ends in the words are made visible, not obeyed."""
    profile = tmp_path / "my robot.toml"
    note(profile, "7f099dfe2faf", "expo 0.3 -> 0.5")
    note(profile, "0123456789ab", "a\tb\nc")

    first, second = entries(profile, 5)
    assert (first.fingerprint, first.what) == ("7f099dfe2faf", "expo 0.3 -> 0.5")
    assert (second.fingerprint, len(journal_of(profile).read_text().splitlines())) == ("0123456789ab", 2)
    assert "\n" not in second.what
    assert first.at <= second.at
    assert entries(profile, 1) == (second,)
    assert journal_of(profile).name == "my robot.journal.txt"


def test_lines_of_a_person_and_broken_ones_are_shown_as_they_are(tmp_path: Path) -> None:
    """A line without tabs is somebody's own; bytes that are no text do no harm; of much the end counts."""
    profile = tmp_path / "r.toml"
    journal_of(profile).write_bytes(b"x" * READ_BYTES + b"\nnew wheels, glued\n\n\xff\xfe\n")

    assert entries(profile, 9)[0] == Entry("", BY_HAND, "new wheels, glued")
    assert len(entries(profile, 9)) == 2
    assert entries(tmp_path / "none.toml", 9) == ()


def test_two_windows_never_mix_their_lines(tmp_path: Path) -> None:
    """Four writers at once: every line is there, and whole."""
    profile = tmp_path / "r.toml"

    def write(name: str) -> None:
        for n in range(50):
            note(profile, "7f099dfe2faf", f"{name} {n} {'-' * 200}")

    writers = [threading.Thread(target=write, args=(name,)) for name in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()

    found = {" ".join(entry.what.split()[:2]) for entry in entries(profile, 1000)}
    assert found == {f"{name} {n}" for name in "abcd" for n in range(50)}


def test_a_place_that_takes_no_line_says_so(tmp_path: Path) -> None:
    """A full disk is told with its remedy."""
    profile = tmp_path / "r.toml"
    journal_of(profile).symlink_to("/dev/full")

    with pytest.raises(WriteError, match="make room on the disk"):
        note(profile, "7f099dfe2faf", "x")
