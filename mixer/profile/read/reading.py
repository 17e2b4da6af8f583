"""From a file to TOML tables with line numbers. Whatever is wrong with the file is one problem."""

import re
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from mixer.errors import Problem, ProfileError
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.fitting import fitting_of, own_path
from mixer.profile.read.lines import KeyPath, line_of, lines_of
from mixer.profile.read.overlay import Table

MOST_BYTES = 1_000_000
MOST_LEVELS = 20
MOST_DOTS = 100
_AT = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_EMPTY = "write at least [robot] and an [output.NAME], or begin with: stickwright new"


@dataclass(frozen=True)
class Source:
    """A profile's text, what TOML made of it and where each key stands."""

    where: str
    text: str
    tables: Table

    @cached_property
    def lines(self) -> dict[KeyPath, int]:
        """The line of every key, worked out when somebody has to be told."""
        return lines_of(self.text)

    def problem(self, complaint: Complaint, name: str | None) -> Problem:
        """The complaint with file, line and what is fitted.

        The key may stand in the tables of what is fitted or in the base; the one that has the longer part
        of the path is meant.
        """
        path, said, fitting = complaint.path, complaint.said, fitting_of(name)
        for section, own in reversed(fitting.overlays):
            over = own_path(section, own, complaint.path)
            if over in self.lines or (path not in self.lines and self._known(over) - 2 > self._known(path)):
                path = over
        if name is not None:
            said = f"{said} ({'in loadout' if name == fitting.loadout else 'with'} {fitting.words})"
        line = line_of(self.lines, path)
        where = self.where if line is None else f"{self.where}:{line}"
        return Problem(where, _dotted(path), said, complaint.remedy)

    def _known(self, path: KeyPath) -> int:
        """How many keys of a path the text holds."""
        return next((n for n in range(len(path), 0, -1) if path[:n] in self.lines), 0)


def read_text(path: Path) -> str:
    """The file's text. Raises ProfileError for anything that is not a readable UTF-8 file."""
    where = str(path)
    if path.is_dir():
        raise _refused(where, "is a directory, not a profile", "name the .toml file inside it")
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _refused(where, "there is no such file", _nearest_file(path)) from None
    except (OSError, ValueError) as error:
        said = f"cannot be read: {getattr(error, 'strerror', None) or error}"
        raise _refused(where, said, "check the path and its permissions") from None
    if len(data) > MOST_BYTES:
        raise _refused(
            where, "is over a megabyte, which no profile is", "name a profile, not a log or a picture"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        said = f"is not UTF-8 text (byte {data[error.start]:#04x})"
        raise _refused(f"{where}:{line}", said, "save it as UTF-8, or name a profile") from None


def read_tables(text: str, where: str) -> Source:
    """The text as TOML tables. Raises ProfileError where it is not TOML, or empty."""
    _refuse_long_keys(text, where)
    try:
        tables = tomllib.loads(text)
        _refuse_depth(tables)
    except RecursionError:
        raise _refused(where, "is nested too deeply", "a profile needs no more than five levels") from None
    except ValueError as error:
        found = _AT.search(str(error))
        line = (found.group(1) if found else None) or str(text.count("\n") + 1)
        said = f"is not TOML: {_AT.sub('', str(error))}"
        remedy = 'look at this line and the one above: key = value, texts in "quotes", tables in [brackets]'
        raise _refused(f"{where}:{line}" if found else where, said, remedy) from None
    if not tables:
        raise _refused(where, "is empty", _EMPTY)
    return Source(where, text, tables)


def _refuse_long_keys(text: str, where: str) -> None:
    """Keys of thousands of parts, which take the parser longer than anybody waits."""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > MOST_DOTS and not line.lstrip().startswith("#"):
            remedy = "a key has five parts at most; put long lists on several lines"
            raise _refused(f"{where}:{number}", f"holds over {MOST_DOTS} dots in a line", remedy)


def _refuse_depth(tables: Table) -> None:
    """Raises RecursionError before anything that walks the tables does."""
    level: list[object] = [tables]
    for _ in range(MOST_LEVELS):
        if not level:
            return
        level = [
            inner
            for item in level
            if isinstance(item, dict | list)
            for inner in (item.values() if isinstance(item, dict) else item)
        ]
    raise RecursionError


def _nearest_file(path: Path) -> str:
    beside = sorted(path.parent.glob("*.toml"))[:20] if path.parent.is_dir() else []
    if beside:
        return f"profiles in {path.parent}: {', '.join(file.name for file in beside)}"
    return "check the path, or begin a profile with: stickwright new"


def _refused(where: str, said: str, remedy: str) -> ProfileError:
    return ProfileError([Problem(where, "", said, remedy)])


def _dotted(path: KeyPath) -> str:
    text = ""
    for key in path:
        text += f"[{key}]" if isinstance(key, int) else f".{key}" if text else str(key)
    return text
