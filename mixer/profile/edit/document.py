"""Changing one value of a profile's text and leaving every other byte alone.

    text = Editor(text).set(("shape", "soft", "expo"), 0.35)

The new value is put where the old one stands; a value the text does not hold yet comes right after the
last one of its table. Every change is read back: the new text holds exactly the new value and everything
else as before, or InternalError says that it does not, and the old text is still the caller's.
"""

import json
import tomllib
from collections.abc import Sequence
from typing import Any, TypeAlias

from mixer.errors import InternalError, OptionError
from mixer.profile.read.lines import Places, places_of

Scalar: TypeAlias = bool | int | float | str
Tables: TypeAlias = dict[str, Any]


def value_in(tables: Tables, path: Sequence[str]) -> Scalar | None:
    """The value at a key path; None where the tables say nothing."""
    inner: Any = tables
    for key in path:
        if not isinstance(inner, dict) or key not in inner:
            return None
        inner = inner[key]
    return inner if isinstance(inner, bool | int | float | str) else None


class Editor:
    """A text with what it says, changed value by value. Unchanged by a change that raises."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tables: Tables = tomllib.loads(text)
        """What the text says now."""
        self._places: Places | None = None

    def set(self, path: Sequence[str], value: Scalar) -> str:
        """One value changed, or added where its table says nothing of it; `text` is the result.

        A whole number stays written without a point where the file writes one so. Raises OptionError for a
        path whose table is not in the text (but for a table of one level, which is added at the end), and
        for one that is a table with lines of its own.
        """
        before = value_in(self.tables, path)
        if isinstance(value, float) and value.is_integer() and type(before) in (int, type(None)):
            value = int(value)
        literal, places = _literal(value), self._places or places_of(self.text)
        pair = places.pairs.get(tuple(path))
        if pair is None:
            return self._take(_added(self.text, self.tables, places, tuple(path), literal), path, value)
        new = self._take(self.text[: pair.value] + literal + self.text[pair.end :], path, value)
        self._places = places.moved(pair.end, pair.value + len(literal) - pair.end)
        return new

    def remove(self, path: Sequence[str]) -> str:
        """The text without one value, so that its default holds. Unchanged where it says nothing of it."""
        if value_in(self.tables, path) is None:
            return self.text
        return self._take(_without(self.text, tuple(path)), path, None)

    def _take(self, new: str, path: Sequence[str], value: Scalar | None) -> str:
        tables = tomllib.loads(new)
        if tables != _changed(self.tables, path, value):
            raise InternalError(f"writing {'.'.join(path)} would have changed something else as well")
        self.text, self.tables, self._places = new, tables, None
        return new


def _literal(value: Scalar) -> str:
    """A value as TOML 1.0 writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):  # JSON escapes what TOML's basic strings do, but for one control character
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(value)


def _added(text: str, tables: Tables, places: Places, path: tuple[str, ...], literal: str) -> str:
    table, added = path[:-1], f"{path[-1]} = {literal}"
    if path in places.ends or path in places.dotted:
        said = f"{'.'.join(path)} is a table of its own in the file"
        raise OptionError(said, "take the table out of the file first")
    if table in places.braces:
        opened, end = places.braces[table]
        if opened == end:
            return f"{text[:opened]} {added} {text[opened:].lstrip(' ')}"
        return f"{text[:end]}, {added}{text[end:]}"
    if table in places.dotted:
        start, end, begin = places.dotted[table]
        return _on_new_line(text, start, end, f"{begin}{added}")
    if table in places.ends:
        return _on_new_line(text, *places.ends[table], added)
    if len(path) == 2 and path[0] not in tables:
        line_end = "\r\n" if "\r\n" in text else "\n"
        return f"{text.rstrip()}{line_end}{line_end}[{path[0]}]{line_end}{added}{line_end}"
    raise OptionError(f"there is no [{'.'.join(table)}] to change", "name a table of the profile")


def _on_new_line(text: str, start: int, end: int, added: str) -> str:
    """A line of its own below what stands from `start` to `end`, indented like it."""
    end = text.find("\n", end)
    end = len(text) if end < 0 else end
    line_end = "\n"
    if text[end - 1 : end] == "\r":
        end, line_end = end - 1, "\r\n"
    before = text[text.rfind("\n", 0, start) + 1 : start]
    indent = before[: len(before) - len(before.lstrip())]
    return f"{text[:end]}{line_end}{indent}{added}{text[end:]}"


def _without(text: str, path: tuple[str, ...]) -> str:
    pair = places_of(text).pairs.get(path)
    if pair is None:
        raise InternalError(f"{'.'.join(path)} could not be found in the text")
    before, after = text[: pair.start], text[pair.end :]
    if not pair.inline:
        return before[: before.rfind("\n") + 1] + after.partition("\n")[2]
    if after.lstrip().startswith(","):
        return before + after.lstrip()[1:].lstrip()
    return before.rstrip().removesuffix(",") + after


def _changed(tables: Tables, path: Sequence[str], value: Scalar | None) -> Tables:
    """The tables with one value changed, or taken out; what lies beside the path is shared."""
    changed = dict(tables)
    if len(path) > 1:
        inner = changed.get(path[0], {})
        changed[path[0]] = _changed(inner if isinstance(inner, dict) else {}, path[1:], value)
    elif value is None:
        del changed[path[0]]
    else:
        changed[path[0]] = value
    return changed
