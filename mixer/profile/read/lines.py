"""Where each key and value of a TOML text stands, which the standard parser does not tell.

A small scanner that walks only the skeleton: headers, keys, and enough of values to step over them
(strings, arrays, inline tables). It reads text that `tomllib` has already accepted, so it may take
syntax for granted; should it lose its way all the same, it stops and keeps what it has.
Source of the syntax: the TOML 1.0.0 specification, https://toml.io/en/v1.0.0.
"""

import contextlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

KeyPath: TypeAlias = tuple[str | int, ...]

_SPACE = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS = tuple(
    re.compile(pattern, re.DOTALL)
    for pattern in (
        r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}',
        r"'''(?:[^']|'{1,2}(?!'))*'{3,5}",
        r'"(?:[^"\\\n]|\\.)*"',
        r"'[^'\n]*'",
    )
)
_SCALAR = re.compile(r"[^,\]}#\n]*")


@dataclass(frozen=True, slots=True)
class Pair:
    """One ``key = value``, as offsets into the text."""

    start: int
    value: int
    end: int
    inline: bool
    """Whether it stands within braces."""


@dataclass(slots=True)
class Places:
    """Where things stand in a text, by key path."""

    pairs: dict[KeyPath, Pair] = field(default_factory=dict)
    ends: dict[KeyPath, tuple[int, int]] = field(default_factory=dict)
    """Of a table with a header: where its last own pair starts and ends, else its header."""
    braces: dict[KeyPath, tuple[int, int]] = field(default_factory=dict)
    """Of an inline table: right after its brace opens; where its last pair ends."""
    dotted: dict[KeyPath, tuple[int, int, str]] = field(default_factory=dict)
    """Of a table that only dotted keys make: where the last of them starts and ends, how they begin."""

    def moved(self, at: int, by: int) -> "Places":
        """The places after a change that moved everything from `at` on."""

        def to(place: int) -> int:
            return place + by if place >= at else place

        return Places(
            {path: Pair(to(p.start), to(p.value), to(p.end), p.inline) for path, p in self.pairs.items()},
            {path: (to(start), to(end)) for path, (start, end) in self.ends.items()},
            {path: (to(start), to(end)) for path, (start, end) in self.braces.items()},
            {path: (to(start), to(end), begin) for path, (start, end, begin) in self.dotted.items()},
        )


def lines_of(text: str) -> dict[KeyPath, int]:
    """The line (from 1) of every table and key, by key path; items of arrays of tables by number."""
    return _scanned(text).found


def places_of(text: str) -> Places:
    """Where every table, key and value stands, for changing one of them."""
    return _scanned(text).places


def _scanned(text: str) -> "_Scanner":
    scanner = _Scanner(text)
    with contextlib.suppress(IndexError, RecursionError, _LostError):
        scanner.scan()
    return scanner


def line_of(found: dict[KeyPath, int], path: Sequence[str | int]) -> int | None:
    """The line of the key itself, or of the nearest table around it; None when there is none."""
    for length in range(len(path), 0, -1):
        line = found.get(tuple(path[:length]))
        if line is not None:
            return line
    return None


class _LostError(Exception):
    """The scanner met something it does not know."""


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[KeyPath, int] = {}
        self.places = Places()
        self._items: dict[KeyPath, int] = {}
        self._counted = (0, 1)

    def scan(self) -> None:
        table: KeyPath = ()
        self._skip(_SPACE)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_SPACE)

    def _header(self) -> KeyPath:
        line, start = self._line(), self.at
        is_item = self.text.startswith("[[", self.at)
        self.at += 2 if is_item else 1
        keys = self._dotted()
        self.at += 2 if is_item else 1
        path: KeyPath = ()
        for number, key in enumerate(keys):
            path = (*path, key)
            if number < len(keys) - 1 and path in self._items:
                path = (*path, self._items[path])
        self.found.setdefault(path, line)
        if is_item:
            self._items[path] = self._items.get(path, -1) + 1
            path = (*path, self._items[path])
            self.found[path] = line
        self.places.ends[path] = start, self.at
        return path

    def _pair(self, table: KeyPath, *, inline: bool = False) -> None:
        line, start = self._line(), self.at
        path = table
        keys = self._dotted()
        for key in keys:
            path = (*path, key)
            self.found.setdefault(path, line)
        if self.text[self.at] != "=":
            raise _LostError
        self.at += 1
        self._skip(_BLANK)
        value = self.at
        self._value(path)
        end = value + len(self.text[value : self.at].rstrip())
        self.places.pairs[path] = Pair(start, value, end, inline)
        self.places.ends[table] = start, end
        for depth in range(1, len(keys)):
            self.places.dotted[(*table, *keys[:depth])] = (
                start,
                end,
                "".join(f"{key}." for key in keys[:depth]),
            )

    def _dotted(self) -> list[str]:
        keys = []
        while True:
            self._skip(_BLANK)
            keys.append(self._key())
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def _key(self) -> str:
        if self.text[self.at] in "\"'":
            return self._string()[1:-1]
        match = _BARE_KEY.match(self.text, self.at)
        if match is None:
            raise _LostError
        self.at = match.end()
        return match.group()

    def _value(self, path: KeyPath) -> None:
        self._skip(_BLANK)
        opening = self.text[self.at]
        if opening == "{":
            self._inline_table(path)
        elif opening == "[":
            self._array(path)
        elif opening in "\"'":
            self._string()
        else:
            self._skip(_SCALAR)

    def _inline_table(self, path: KeyPath) -> None:
        self.at += 1
        opened = self.at
        self._skip(_SPACE)
        while self.text[self.at] != "}":
            self._pair(path, inline=True)
            self._separator()
        self.places.braces[path] = opened, self.places.ends.pop(path, (opened, opened))[1]
        self.at += 1

    def _array(self, path: KeyPath) -> None:
        self.at += 1
        self._skip(_SPACE)
        number = 0
        while self.text[self.at] != "]":
            self.found.setdefault((*path, number), self._line())
            self._value((*path, number))
            self._separator()
            number += 1
        self.at += 1

    def _separator(self) -> None:
        self._skip(_SPACE)
        if self.text[self.at] == ",":
            self.at += 1
            self._skip(_SPACE)

    def _string(self) -> str:
        for pattern in _STRINGS:
            match = pattern.match(self.text, self.at)
            if match is not None:
                self.at = match.end()
                return match.group()
        raise _LostError

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()

    def _line(self) -> int:
        offset, line = self._counted
        line += self.text.count("\n", offset, self.at)
        self._counted = (self.at, line)
        return line
