"""Writing a profile back: whole or not at all, with the file as it was beside it."""

import contextlib
import os
from pathlib import Path

from mixer.errors import StickwrightError
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
        said = f"{path} has been changed by another program meanwhile"
        raise StickwrightError(said, "save under another name, compare the two, then decide")
    backup = None
    try:
        if there is not None:
            backup = _backup_path(path, path.read_bytes())
            if not backup.exists():
                write_whole(backup, path.read_bytes())
        ends = b"\r\n" if there is not None and b"\r\n" in path.read_bytes() else b"\n"
        write_whole(path, text.replace("\r\n", "\n").encode().replace(b"\n", ends))
    except OSError as error:
        said = f"{path} cannot be written: {error.strerror}"
        raise StickwrightError(said, "save under another name, in a folder that may be written") from None
    return backup


def write_whole(path: Path, data: bytes, *, sync: bool = True) -> None:
    """Replace a file at once: a crash leaves the old one or the new one, never half of it.

    `sync` waits until the disk has it, so that it outlives the machine as well. Raises OSError.
    """
    path = Path(os.path.realpath(path))
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            if sync:
                os.fsync(file.fileno())
        if path.exists():
            beside.chmod(path.stat().st_mode)
        beside.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise


def _backup_path(path: Path, data: bytes) -> Path:
    """The next free name, or the newest backup where it holds the same already."""
    number = 1
    while (name := path.with_name(f"{path.name}.{number}.bak")).exists():
        following = path.with_name(f"{path.name}.{number + 1}.bak")
        if not following.exists() and name.read_bytes() == data:
            return name
        number += 1
    return name
