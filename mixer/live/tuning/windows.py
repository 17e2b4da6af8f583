"""Which windows have one profile open at the same time: terminals, pages of a browser, our programs.

Each window has a small file that it keeps locked. A lock goes with its process, however that ends, so a
file that can be locked belongs to nobody any more and is cleared away. Nothing here raises: a folder that
cannot be written is told in `problem`, and then no window can see another.
"""

import json
import os
import secrets
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO
from weakref import finalize

from mixer.system import lock_file


@dataclass(frozen=True, slots=True)
class Window:
    """One window, as it says of itself."""

    name: str
    """``the window in pts/3 (process 4711)``."""
    since: str
    """When it opened, as people write it."""


class OpenWindow:
    """This window, as long as it is open."""

    def __init__(self, stem: Path, window: Window) -> None:
        """`stem` with ``.MARK.window`` added is its file; the mark is new for every window."""
        self.window = window
        self.mark = f"{os.getpid():x}-{secrets.token_hex(3)}"
        self.problem = ""
        """Why other windows cannot be seen, in words; empty when they can."""
        self._stem = stem
        self._gone: Callable[[], object] = lambda: None
        try:
            stem.parent.mkdir(parents=True, exist_ok=True)
            file = os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o644)
            self._gone = finalize(self, _gone, file, self.path)
            os.write(file, json.dumps(asdict(window)).encode())
            lock_file(file)
        except OSError as error:
            self.problem = f"other windows of this profile cannot be seen: {self.path}: {error.strerror}"

    @property
    def path(self) -> Path:
        """This window's file."""
        return self._stem.with_name(f"{self._stem.name}.{self.mark}.window")

    def others(self) -> Sequence[Window]:
        """The other windows of the profile that are open now."""
        return tuple(window for _, window in self._others())

    def is_open(self, mark: str) -> bool:
        """Whether the window of this mark is open now."""
        return mark in {other for other, _ in self._others()}

    def close(self) -> None:
        """This window is gone."""
        self._gone()

    def _others(self) -> Iterator[tuple[str, Window]]:
        for path in sorted(self._stem.parent.glob(f"{as_pattern(self._stem.name)}.*.window")):
            mark = path.name.removesuffix(".window").removeprefix(f"{self._stem.name}.")
            if mark == self.mark:
                continue
            try:
                with path.open("r+b") as file:
                    if lock_file(file.fileno()):
                        path.unlink(missing_ok=True)  # its window ended without a word
                    else:
                        yield mark, _read(file)
            except OSError:
                continue


def _gone(file: int, path: Path) -> None:
    with suppress(OSError):
        path.unlink(missing_ok=True)
    os.close(file)


def _read(file: BinaryIO) -> Window:
    try:
        said = json.loads(file.read(10_000))
        return Window(str(said["name"]), str(said["since"]))
    except (ValueError, KeyError, TypeError):
        return Window("another window", "")


def as_pattern(name: str) -> str:
    """A name as a pattern that matches only itself."""
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
