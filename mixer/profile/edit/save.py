"""Writing a profile back: whole or not at all, with the file as it was beside it."""

from pathlib import Path

from mixer.errors import StickwrightError
from mixer.files import write_file
from mixer.profile.read.reading import read_text


def save_text(path: Path, text: str, known: str | None = None) -> Path | None:
    """Write a profile; the path of the backup, None where there was no file or nothing to change.

    `known` is the text the edits began with: where the file says something else by now, somebody else
    wrote to it and StickwrightError is raised, as for every failure to write. The backup is
    ``NAME.toml.1.bak``, counting up, so that no backup is ever overwritten.
    """
    there = read_text(path) if path.exists() else None
    if there == text:
        return None
    if known is not None and there is not None and there != known:
        said = f"{path} was changed by another program"
        raise StickwrightError(said, "read it again, or save elsewhere")
    backup, ends = None, "\n"
    if there is not None:
        before = path.read_bytes()
        backup, ends = _backup_path(path, before), "\r\n" if b"\r\n" in before else "\n"
        if not backup.exists():
            write_file(backup, before)
    write_file(path, text.replace("\r\n", "\n").replace("\n", ends))
    return backup


def _backup_path(path: Path, data: bytes) -> Path:
    """The next free name, or the newest backup where it holds the same already."""
    number = 1
    while (name := path.with_name(f"{path.name}.{number}.bak")).exists():
        following = path.with_name(f"{path.name}.{number + 1}.bak")
        if not following.exists() and name.read_bytes() == data:
            return name
        number += 1
    return name
