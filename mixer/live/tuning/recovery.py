"""The files that keep unsaved edits through a crash: one for each window, none ever written over.

A window writes its own file whole after every edit, beside the profile or in a folder of the user's
choosing; it is gone once nothing is unsaved. What a window left that has ended is offered to the next one.
"""

import contextlib
import hashlib
import json
import os
import threading
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from mixer.errors import WriteError
from mixer.files import write_file
from mixer.live.tuning.windows import OpenWindow, Window, as_pattern
from mixer.profile.journal import local_time

_MOST_BYTES = 10_000_000


@dataclass(frozen=True, slots=True)
class Kept:
    """Both sides of a tuning, as whole profile texts."""

    profile: str
    file_text: str
    """What the profile's file said when the edits began."""
    side: str
    a: str
    b: str
    made: str = ""
    """When the last of the edits was made, as people write it."""
    window: str = ""
    """In which window."""


def recovery_stem(profile: Path, folder: Path | None) -> Path:
    """What the names of all files begin with that are kept for one profile."""
    if folder is None:
        return profile.with_name(f".{profile.name}")
    mark = hashlib.sha256(os.fsencode(profile.resolve())).hexdigest()[:10]
    return folder / f"{profile.stem}-{mark}"


class RecoveryFile:
    """The unsaved edits of this window, and what other windows have left."""

    def __init__(self, profile: Path, folder: Path | None = None, window: str = "a program") -> None:
        self._stem = recovery_stem(profile, folder)
        self.open_window = OpenWindow(self._stem, Window(window, local_time()))
        self.path = self._stem.with_name(f"{self._stem.name}.{self.open_window.mark}.unsaved")
        self.problem = ""
        """Why edits could not be kept the last time, in words; empty when they were."""
        self._syncing = threading.Lock()
        self._synced = threading.Event()
        self._synced.set()

    def left(self) -> Sequence[Path]:
        """Files of windows that have ended, the newest first."""
        found = self._stem.parent.glob(f"{as_pattern(self._stem.name)}.*unsaved")
        ended = [path for path in found if path != self.path and not self._is_open(path)]
        return sorted(ended, key=_written_at, reverse=True)

    def write(self, kept: Kept) -> None:
        """Keep these edits: a crash of the program leaves them from now on, one of the machine soon.

        Does not raise: `problem` says what is the matter.
        """
        try:
            write_file(self.path, json.dumps(asdict(kept), ensure_ascii=False), sync=False)
            self.problem = ""
        except WriteError as error:
            self.problem = f"edits are not kept through a crash: {error.said}"
            return
        if self._synced.is_set():
            self._synced.clear()
            threading.Thread(target=self._sync, name="edits to disk", daemon=True).start()

    def drop(self) -> None:
        """Nothing is unsaved any more."""
        try:
            self.path.unlink(missing_ok=True)
        except OSError as error:
            self.problem = f"{self.path} could not be removed: {error.strerror}"

    def close(self) -> None:
        """The window closes; its edits stay for the next one."""
        if self._syncing.acquire(timeout=1.0):
            self._syncing.release()
        self.open_window.close()

    def _is_open(self, path: Path) -> bool:
        mark = path.name.removesuffix(".unsaved").removeprefix(f"{self._stem.name}.")
        return self.open_window.is_open(mark)

    def _sync(self) -> None:
        """Wait, beside the bench, until the disk has what was written."""
        with self._syncing, contextlib.suppress(OSError):
            self._synced.set()  # what is written from here on asks for another turn
            with self.path.open("r+b") as file:
                os.fsync(file.fileno())


def read_kept(path: Path) -> Kept | None:
    """What a window left; None for what cannot be read as that."""
    try:
        with path.open("rb") as file:
            table = json.loads(file.read(_MOST_BYTES))
        table.pop("form", None)
        return Kept(**{key: str(value) for key, value in table.items()})
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return None


def _written_at(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
