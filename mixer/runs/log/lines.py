"""From a file to records of text fields: bytes, line ends, separators, quotes.

Follows RFC 4180 and forgives what loggers and spreadsheets do to it: a byte order mark, LF or CR line
ends, blank and ``#`` lines, semicolons or tabs between columns. Each is told as a notice. One line is in
memory at a time.
"""

import csv
import errno
import re
import stat
from collections.abc import Iterable, Iterator
from functools import lru_cache
from io import TextIOWrapper
from itertools import chain
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO, BinaryIO, NamedTuple, TextIO

from mixer.errors import LogError, Problem
from mixer.runs.log.notices import Notices

LONGEST_LINE = 1_000_000
MOST_COLUMNS = 1000
MOST_PIPED_BYTES = 500_000_000
"""Of a pipe: hours of any receiver."""
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
HEAD_BYTES = 4096
_OWN = re.compile(r"# \w+: ")
"""How a line begins in which a log of ours says something of itself."""
MOST_TITLES = 5
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}


class Record(NamedTuple):
    """One line of the file, split."""

    line: int
    fields: list[str]
    trouble: str
    """Why it could not be split; empty when it could."""


class Lines:
    """The lines that hold records; knows the number of the last one and whether it was ended."""

    def __init__(self, file: TextIO, notices: Notices) -> None:
        self._file = file
        self._notices = notices
        self.line = 0
        self.ended = True

    def __iter__(self) -> Iterator[str]:
        while text := self._file.readline(LONGEST_LINE):
            self.line += 1
            if len(text) == LONGEST_LINE:
                raise LogError([self._too_long()])
            self.ended = text[-1] in "\r\n"
            if text[0] == "#":
                if not _OWN.match(text):
                    self._notices.add("comment", "a comment line, skipped", line=self.line)
            elif text.isspace():
                self._notices.add("blank", "a blank line, skipped", line=self.line)
            else:
                yield text

    def _too_long(self) -> Problem:
        where = f"{self._notices.file}:{self.line}"
        return Problem(where, "", "is longer than a megabyte, as no row is", "give a log, one row a frame")

    def again(self, looked: Iterable[tuple[int, bool, str]]) -> Iterator[str]:
        """Lines that have been looked at, as if they came now."""
        for self.line, self.ended, text in looked:
            yield text


class Records:
    """A log's records, the header first. `separator` is found from the header line."""

    def __init__(self, file: TextIO, notices: Notices) -> None:
        self._lines = Lines(file, notices)
        self._texts = iter(self._lines)
        self._notices = notices
        self.separator = ","

    @property
    def line(self) -> int:
        """The number of the last line read, from 1."""
        return self._lines.line

    @property
    def torn(self) -> bool:
        """Whether the last line read has no line end."""
        return not self._lines.ended

    def header(self) -> Record | None:
        """The first record, None for a file without one. Raises LogError where it is beyond all reason."""
        looked = self._look()
        if not looked:
            return None
        place = _header_among([text for _, _, text in looked])
        for line, _, _ in looked[:place]:
            self._notices.add("title", "a title before the header, skipped", line=line)
        line, _, first = looked[place]
        self._texts = chain(self._lines.again(looked[place + 1 :]), self._texts)
        self._lines.line = line
        self.separator = max(SEPARATORS, key=first.count) if "," not in first else ","
        if first.count(self.separator) and self.separator != ",":
            said = f"columns are separated by {SEPARATORS[self.separator]}, read as such"
            self._notices.add("separator", said, line=line)
        header = next(self._split(iter([first])), None)
        if header is None:
            return None
        if len(header.fields) > MOST_COLUMNS:
            said = f"{len(header.fields)} columns are too many"
            remedy = f"keep {MOST_COLUMNS} at most: the time, channels, contacts"
            raise LogError([Problem(f"{self._notices.file}:{line}", "", said, remedy)])
        return header._replace(line=line)

    def _look(self) -> list[tuple[int, bool, str]]:
        """The first lines, up to one that holds numbers, each with its number and whether it is ended."""
        looked: list[tuple[int, bool, str]] = []
        for text in self._texts:
            looked.append((self._lines.line, self._lines.ended, text))
            if len(looked) > MOST_TITLES or any(map(_is_number, _cells(text))):
                break
        return looked

    def __iter__(self) -> Iterator[Record]:
        return self._split(self._texts)

    def _split(self, texts: Iterator[str]) -> Iterator[Record]:
        reader = csv.reader(texts, delimiter=self.separator, strict=True)
        lines = self._lines
        while True:
            start = lines.line + 1
            try:
                fields = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                yield Record(min(start, lines.line), [], str(error))
            else:
                yield Record(lines.line, fields, "")


def _header_among(texts: list[str]) -> int:
    """Which of a log's first lines names the columns: the first, unless those before numbers have fewer."""
    named = [place for place, text in enumerate(texts) if not any(map(_is_number, _cells(text)))]
    last = named[-1] if named else 0
    widths = [len(_cells(text)) for text in texts]
    return last if all(width < widths[last] for width in widths[:last]) else 0


def _cells(text: str) -> list[str]:
    separator = max(SEPARATORS, key=text.count)
    return [cell.strip().strip('"') for cell in text.split(separator)]


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True


def open_text(path: Path) -> tuple[TextIO, BinaryIO]:
    """A log as text, and the bytes under it (whose position tells the progress).

    Raises LogError when it is missing, unreadable, empty or no text.
    """
    try:
        raw = _opened(path)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise LogError(
            [Problem(str(path), "", f"cannot be read: {reason}", "give the path of a log")]
        ) from error
    head = raw.read(HEAD_BYTES)
    problem = _unfit(str(path), head)
    if problem:
        raw.close()
        raise LogError([problem])
    raw.seek(len(BYTE_ORDER_MARK) if head.startswith(BYTE_ORDER_MARK) else 0)
    return TextIOWrapper(raw, encoding="utf-8", errors="replace", newline=""), raw


def _opened(path: Path) -> BinaryIO:
    """The file's bytes; a pipe can be read only once, so it is copied first. Raises OSError."""
    status = path.stat()
    if stat.S_ISREG(status.st_mode) or stat.S_ISDIR(status.st_mode):
        return path.open("rb")
    return Path(_copied(path, status.st_dev, status.st_ino).name).open("rb")


@lru_cache(maxsize=4)
def _copied(path: Path, _device: int, _inode: int) -> IO[bytes]:
    """A pipe's bytes in a file that goes with this process."""
    copy = NamedTemporaryFile()  # noqa: SIM115 - kept open, as it exists only so long
    size = 0
    with path.open("rb", buffering=0) as pipe:
        while data := pipe.read(1 << 20):
            size += len(data)
            if size > MOST_PIPED_BYTES or not (copy.tell() or data[:HEAD_BYTES].strip(b"\0")):
                raise OSError(errno.EFBIG, "it is no log: it does not end, or holds no text")
            copy.write(data)
    copy.flush()
    return copy


def _unfit(file: str, head: bytes) -> Problem | None:
    if not head.strip(b"\0 \t\r\n"):
        return Problem(file, "", "is empty", "record a log, or give another file")
    if head[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return Problem(file, "", "is text in UTF-16", "save it as UTF-8")
    if b"\0" in head.rstrip(b"\0"):
        return Problem(
            file, "", "is a binary file", "give a log in CSV: a header line, then one row a frame"
        )
    return None
