"""Writing a profile back."""

import os
from pathlib import Path

import pytest

from mixer.errors import StickwrightError
from mixer.files import write_file
from mixer.profile.edit.save import save_text

TEXT = '[robot]\nname = "saved"\n'


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    """A file of two lines."""
    path = tmp_path / "saved.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_the_old_file_is_kept_beside_the_new_one(profile: Path) -> None:
    """Backups count up, none is ever overwritten, and no temporary file is left."""
    first = save_text(profile, TEXT + "# one\n")
    second = save_text(profile, TEXT + "# two\n")
    assert profile.read_text(encoding="utf-8") == TEXT + "# two\n"
    assert (first, second) == (profile.with_name("saved.toml.1.bak"), profile.with_name("saved.toml.2.bak"))
    assert first is not None
    assert first.read_text(encoding="utf-8") == TEXT
    names = {path.name for path in profile.parent.iterdir()}
    assert names == {"saved.toml", "saved.toml.1.bak", "saved.toml.2.bak"}


def test_nothing_is_written_when_nothing_differs(profile: Path) -> None:
    """No backup of a file that stays as it is."""
    assert save_text(profile, TEXT) is None
    assert [path.name for path in profile.parent.iterdir()] == ["saved.toml"]


def test_a_file_somebody_else_changed_is_not_overwritten(profile: Path) -> None:
    """The refusal names the file, and the other's work stays."""
    profile.write_text("# theirs\n", encoding="utf-8")
    with pytest.raises(StickwrightError, match="changed by another program"):
        save_text(profile, TEXT + "# mine\n", known=TEXT)
    assert profile.read_text(encoding="utf-8") == "# theirs\n"


def test_line_ends_stay_as_the_file_has_them(profile: Path) -> None:
    """A file with CRLF is written with CRLF, since reading it may have made them LF."""
    profile.write_bytes(TEXT.replace("\n", "\r\n").encode())
    save_text(profile, TEXT + "# more\n")
    assert profile.read_bytes() == (TEXT + "# more\n").replace("\n", "\r\n").encode()


def test_a_failed_write_leaves_the_old_file(profile: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full, the file is whole and nothing else is left behind."""

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StickwrightError, match="No space left"):
        save_text(profile, TEXT + "# more\n")
    assert profile.read_text(encoding="utf-8") == TEXT
    assert [path.name for path in profile.parent.iterdir()] == ["saved.toml"]


def test_a_link_stays_a_link(profile: Path) -> None:
    """The file a symbolic link points to is replaced, not the link; its permissions stay."""
    profile.chmod(0o640)
    link = profile.with_name("link.toml")
    link.symlink_to(profile)
    write_file(link, b"# new\n")
    assert link.is_symlink()
    assert profile.read_bytes() == b"# new\n"
    assert profile.stat().st_mode & 0o777 == 0o640
