"""The journal beside a profile: what was done to the robot or its tuning, when, and which tuning that was.

One line each in ``NAME.journal.txt``: local time, fingerprint, words, with tabs between them, so that a
person may add lines of their own. Lines are only ever added.
"""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from mixer.files import add_line
from mixer.text import visible

READ_BYTES = 64_000
"""Of a long journal its end is read."""
LONGEST = 400
"""Characters of one entry's words."""
BY_HAND = "(by hand)"
"""Stands for the fingerprint of a line that a person has written."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line."""

    at: str
    fingerprint: str
    what: str

    def __str__(self) -> str:
        return f"{self.at}  {self.fingerprint}  {self.what}"


def journal_of(profile: Path) -> Path:
    """Where a profile's journal stands."""
    return profile.with_name(f"{profile.stem}.journal.txt")


def local_time() -> str:
    """Now, to the second, as people at the event write it."""
    return datetime.now().isoformat(" ", "seconds")  # noqa: DTZ005  the clock on the wall


def note(profile: Path, fingerprint: str, what: str) -> None:
    """Add a line. Raises WriteError where it cannot be added."""
    words = visible(what)
    if len(words) > LONGEST:
        words = f"{words[: LONGEST - 2]} …"
    add_line(journal_of(profile), f"{local_time()}\t{fingerprint}\t{words}")


def entries(profile: Path, last: int) -> tuple[Entry, ...]:
    """The last lines, oldest first; none where there is no journal, or none that can be read."""
    lines = last_lines(journal_of(profile), READ_BYTES)
    return tuple(_entry(line) for line in lines if line.strip())[-last:]


def last_lines(path: Path, most_bytes: int) -> list[str]:
    """The whole lines at the end of a file, oldest first; none where it is missing or cannot be read."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - most_bytes))
            lines = file.read(min(size, most_bytes)).decode("utf-8", "replace").splitlines()
    except OSError:
        return []
    return lines if size <= most_bytes else lines[1:]


def _entry(line: str) -> Entry:
    at, _, rest = line.partition("\t")
    fingerprint, tab, what = rest.partition("\t")
    if not tab:
        return Entry("", BY_HAND, visible(line.strip()))
    return Entry(visible(at), visible(fingerprint), visible(what))
