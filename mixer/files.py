"""The one writer of files: whole or not at all, and never over what the command did not make.

A file is written beside its place under a name of its own, brought to the disk, and then moved there in one
step. Until that step whatever stood there is untouched; a full disk, an interrupt or a crash leave it so.
"""

import errno
import io
import os
import secrets
import shutil
import stat
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, TextIO

from mixer.errors import WriteError
from mixer.system import keep_owner, swap, sync_folder

HEAD_BYTES = 4096
"""How much of a file is searched for a mark."""
_PREFIX, _SUFFIX = ".stickwright-", ".new"
_OLD_S = 24 * 3600
"""Of an unfinished file: whoever began it is gone."""
_ELSEWHERE = "name a place where you may write"


def check_place(
    path: Path, *, inputs: Iterable[Path] = (), marks: Iterable[str] = (), overwrite: bool = False
) -> None:
    """Before any work: whether a result may be written there.

    What stands there already may be replaced when it holds one of `marks` near its beginning, which only
    this command writes, or when the user said `overwrite`; never when it is one of the `inputs`.

    Raises:
        WriteError: it may not be replaced, or could not be written.
    """
    try:
        _check_place(path, list(inputs), list(marks), overwrite=overwrite)
    except OSError as error:
        raise error if isinstance(error, WriteError) else cannot_be_written(path, error) from None


def cannot_be_written(path: Path, error: OSError | ValueError) -> WriteError:
    """The one wording for a place that does not take what is written to it."""
    reason = getattr(error, "strerror", None) or str(error)
    room = getattr(error, "errno", None) in (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)
    return WriteError(
        f"{path} cannot be written: {reason}",
        f"make room on the disk, or {_ELSEWHERE}" if room else _ELSEWHERE,
    )


def write_file(path: Path, data: bytes | str, *, sync: bool = True) -> None:
    """Replace a file at once. `sync` waits until the disk has it. Raises WriteError."""
    with written(path, sync=sync) as file:
        file.write(data.encode() if isinstance(data, str) else data)


def add_line(path: Path, line: str) -> None:
    """Add one line to a file, made where there is none; by one write, so lines of two programs never mix.

    Raises WriteError where it cannot be added; nothing of it is there then.
    """
    data = f"{line}\n".encode()
    try:
        with path.open("ab", buffering=0) as file:
            before = os.fstat(file.fileno()).st_size
            whole = file.write(data) == len(data)
            if not whole:
                file.truncate(before)
    except OSError as error:
        raise cannot_be_written(path, error) from None
    if not whole:
        raise cannot_be_written(path, OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))


@contextmanager
def written(path: Path, *, sync: bool = True) -> Iterator[BinaryIO]:
    """A file to write bytes to; it takes its place when the block ends well, else nothing happened.

    Links are followed, permissions kept; pipes and devices are written to as they are. Raises WriteError.
    """
    try:
        before = path.stat() if path.exists() else None
        special = before is not None and not stat.S_ISREG(before.st_mode) and not path.is_dir()
        place = path if special else _behind(path)
        beside = place if special else _beside(place)
        raw = _Raw(path, beside, "wb" if special else "xb")
    except (OSError, ValueError) as error:
        raise cannot_be_written(path, error) from None
    try:
        with io.BufferedWriter(raw) as file:
            yield file
            file.flush()
            if not special and sync:
                raw.sync()
        if not special:
            _move(path, beside, place, before, sync=sync)
    except BaseException:
        if not special:
            with suppress(OSError):
                beside.unlink()
        raise


@contextmanager
def written_text(path: Path) -> Iterator[TextIO]:
    """As `written`, for text in UTF-8 whose line ends are written as they are given."""
    with written(path) as file:
        text = io.TextIOWrapper(file, encoding="utf-8", newline="", write_through=False)
        try:
            yield text
            text.flush()
        finally:
            with suppress(OSError, ValueError):
                text.detach()


def write_folder(folder: Path, files: Mapping[str, str]) -> None:
    """All files of a folder, or none; what else stands in it stays. Raises WriteError.

    Not even a crash in the middle leaves some old and some new, where the system can swap folders and
    no folder of somebody else's stands in this one; elsewhere what was replaced is in a folder beside.
    """
    made = [parent for parent in (folder, *folder.parents) if not parent.exists()]
    place = Path(os.path.realpath(folder))
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        stage = _beside(place / "files" if place.exists() else place)
        try:
            stage.mkdir()
            _fill(stage, folder, files)
            if not place.exists():
                stage.replace(place)
            elif not _swapped(stage, place, list(files)):
                _exchange(stage, place, list(files))
            sync_folder(place.parent)
        finally:
            shutil.rmtree(stage, ignore_errors=True)
    except OSError as error:
        _remove_empty(made)
        raise error if isinstance(error, WriteError) else cannot_be_written(folder, error) from None
    except BaseException:
        _remove_empty(made)
        raise


class GrowingFile:
    """A file that grows by whole batches, each on the disk before the next: a crash costs one at most.

    The file is created at once. With `overwrite` the first batch goes beside a file that stands there
    already, which is replaced when the second has come: what never comes to be replaces nothing.
    """

    def __init__(self, path: Path, *, overwrite: bool = False) -> None:
        """Raises WriteError where it cannot be created."""
        self.path = path
        self._waiting: Path | None = None
        try:
            replaces = overwrite and path.is_file() and path.stat().st_size > 0
            self._waiting = _beside(_behind(path)) if replaces else None
            self._file = (self._waiting or path).open("wb" if overwrite else "xb", buffering=0)
        except FileExistsError:
            raise WriteError(f"{path} is there already", "give another name, or ask to overwrite") from None
        except (OSError, ValueError) as error:
            raise cannot_be_written(path, error) from None
        self._batches = 0

    def append(self, data: bytes) -> None:
        """Add whole lines. Raises WriteError; the file is then cut back to whole lines."""
        begin = done = 0
        try:
            if self._waiting is not None and self._batches:
                self._take_place(self._waiting)
            seekable = self._file.seekable()
            begin = self._file.tell() if seekable else 0
            while done < len(data):
                done += self._file.write(data[done:]) or 0
            if seekable:
                os.fsync(self._file.fileno())
        except OSError as error:
            with suppress(OSError):
                self._file.truncate(begin + data[:done].rfind(b"\n") + 1)
            said = f"{self.path}: {error.strerror}; the log is whole up to about the last second"
            raise WriteError(said, "make room, then record on into another file") from None
        self._batches += 1

    def close(self) -> None:
        """End it. Twice is harmless; what never got beyond its first batch leaves the old file."""
        self._file.close()
        if self._waiting is not None:
            self._waiting.unlink(missing_ok=True)

    def _take_place(self, waiting: Path) -> None:
        self._file.close()  # an open file cannot be moved everywhere
        place = _behind(self.path)
        shutil.copymode(place, waiting)
        waiting.replace(place)
        self._waiting = None
        self._file = place.open("ab", buffering=0)


class _Raw(io.FileIO):
    """A file whose failing writes are told apart from every other failure."""

    def __init__(self, shown: Path, path: Path, mode: str) -> None:
        self._shown = shown
        super().__init__(path, mode)

    def write(self, data: object) -> int:
        try:
            return super().write(data)  # type: ignore[arg-type]
        except OSError as error:
            raise cannot_be_written(self._shown, error) from None

    def sync(self) -> None:
        try:
            os.fsync(self.fileno())
        except OSError as error:
            raise cannot_be_written(self._shown, error) from None


def _check_place(path: Path, inputs: list[Path], marks: list[str], *, overwrite: bool) -> None:
    if path.is_dir():
        raise WriteError(f"{path} is a folder", "name a file in it")
    for given in inputs:
        if path == given or (path.exists() and given.exists() and path.samefile(given)):
            raise WriteError(f"{path} is what this command reads", "name another file to write")
    if path.is_file() and not overwrite and not has_mark(path, marks):
        said = f"{path} is there already and was not written by this command"
        raise WriteError(said, "name another file, move it away, or add --overwrite")
    _check_writable(path, _behind(path).parent)


def _check_writable(path: Path, folder: Path) -> None:
    if not folder.is_dir():
        raise WriteError(
            f"{path} cannot be written: there is no folder {path.parent}", f"make it, or {_ELSEWHERE}"
        )
    if not os.access(folder, os.W_OK) and (not path.exists() or path.is_file()):
        raise WriteError(f"{path} cannot be written: the folder may not be written to", _ELSEWHERE)


def check_folder(
    folder: Path,
    names: Iterable[str] = (),
    *,
    inputs: Iterable[Path] = (),
    marks: Iterable[str] = (),
    overwrite: bool = False,
) -> None:
    """As `check_place`, for files of those names in a folder that may not be there yet."""
    there = next(parent for parent in (folder, *folder.absolute().parents) if parent.exists())
    if not there.is_dir():
        raise WriteError(f"{folder} cannot be written: {there} is no folder", _ELSEWHERE)
    _check_writable(folder, there)
    if folder.exists():
        for name in names:
            check_place(folder / name, inputs=inputs, marks=marks, overwrite=overwrite)


def has_mark(path: Path, marks: Iterable[str]) -> bool:
    """Whether a file holds one of the marks near its beginning. Raises OSError."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    return any(mark.encode() in head for mark in marks)


def _behind(path: Path) -> Path:
    """The file itself, where the path is a link to it."""
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def _beside(place: Path) -> Path:
    """A name of its own in the same folder; what a killed run left there long ago goes."""
    for left in place.parent.glob(f"{_PREFIX}*{_SUFFIX}"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _OLD_S:
                shutil.rmtree(left) if left.is_dir() else left.unlink()
    return place.with_name(f"{_PREFIX}{secrets.token_hex(6)}{_SUFFIX}")


def _move(path: Path, beside: Path, place: Path, before: os.stat_result | None, *, sync: bool) -> None:
    try:
        if before is not None and place.exists():
            keep_owner(beside, before)
            beside.chmod(stat.S_IMODE(before.st_mode))
        beside.replace(place)
        if sync:
            sync_folder(place.parent)
    except OSError as error:
        raise cannot_be_written(path, error) from None


def _fill(stage: Path, folder: Path, files: Mapping[str, str]) -> None:
    """The staged files; what does not fit is told by the name it would have had."""
    for name, text in files.items():
        try:
            write_file(stage / name, text)
        except WriteError as error:
            raise WriteError(error.said.replace(str(stage), str(folder)), error.remedy) from None


def _swapped(stage: Path, folder: Path, names: list[str]) -> bool:
    """Move the staged files in while a copy of what was there stands in the folder's place.

    At every moment the folder's name leads to all the old files or to all the new ones, and in the end to
    the same folder as before, for whoever has it open. False, and nothing done, where that cannot be.
    """
    copy = _beside(folder)
    try:
        if not _copied(folder, copy, stage.name) or not swap(copy, folder):
            return False
        for name in names:
            (copy / stage.name / name).replace(copy / name)
        if not swap(copy, folder):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return True
    finally:
        shutil.rmtree(copy, ignore_errors=True)


def _copied(folder: Path, copy: Path, but: str) -> bool:
    """Whether every file has a second name in a new folder; not where a folder is among them."""
    try:
        copy.mkdir()
        for path in folder.iterdir():
            if path.name != but:
                os.link(path, copy / path.name, follow_symlinks=False)
        shutil.copystat(folder, copy)
    except (OSError, NotImplementedError):  # a folder, a disk without links, a parent that is not ours
        return False
    return True


def _exchange(stage: Path, folder: Path, names: list[str]) -> None:
    """Move each staged file into the folder; on any failure every one that moved goes back."""
    before = stage / "before"
    before.mkdir()
    moved: list[str] = []
    try:
        for name in names:
            if (folder / name).is_file():
                shutil.copy2(folder / name, before / name)
                shutil.copymode(folder / name, stage / name)
        for name in names:
            moved.append(name)
            (stage / name).replace(folder / name)
        sync_folder(folder)
    except BaseException:
        for name in moved:
            if (before / name).exists():
                (before / name).replace(folder / name)
            elif not (stage / name).exists():
                (folder / name).unlink(missing_ok=True)
        raise


def _remove_empty(made: Iterable[Path]) -> None:
    for folder in made:
        with suppress(OSError):
            folder.rmdir()
