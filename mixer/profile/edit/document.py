"""Changing one value of a profile's text and leaving every other byte alone.

    text = set_value(text, ("shape", "soft", "expo"), 0.35)

Comments, order, spacing and the file's line ends stay (tomlkit). Every change is read back: the new text
holds exactly the new value and everything else as before, or InternalError says that it does not, and
the old text is still the caller's.
"""

import copy
import tomllib
from collections.abc import Sequence
from typing import Any, TypeAlias

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable, Integer, Item, Table, Trivia

from mixer.errors import InternalError, OptionError

Scalar: TypeAlias = bool | int | float | str


def value_in(text: str, path: Sequence[str]) -> Scalar | None:
    """The value at a key path as the text has it; None where the text says nothing."""
    inner: Any = tomllib.loads(text)
    for key in path:
        if not isinstance(inner, dict) or key not in inner:
            return None
        inner = inner[key]
    return inner if isinstance(inner, bool | int | float | str) else None


def set_value(text: str, path: Sequence[str], value: Scalar) -> str:
    """The text with one value changed, or added where its table says nothing of it.

    A whole number stays written without a point where the file writes one so. Raises OptionError for a
    path whose table is not in the text (but for a table of one level, which is added at the end).
    """
    return Editor(text).set(path, value)


class Editor:
    """A text read once for many changes, as a drag makes them: each costs a third of reading anew."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._document: tomlkit.TOMLDocument | None = None

    def set(self, path: Sequence[str], value: Scalar) -> str:
        """`set_value` on the text as it is now; `text` is the result. Unchanged when it raises."""
        wanted = _changed(tomllib.loads(self.text), path, value)
        document = self._document or tomlkit.parse(self.text)
        self._document = None
        table = _table(document, path)
        before = table.get(path[-1])
        item = _item(value, before)
        try:
            table[path[-1]] = item
            if before is None:
                _place(table, item)
            new = tomlkit.dumps(document)
        except (TOMLKitError, AttributeError) as error:
            raise InternalError(f"{'.'.join(path)} could not be written: {error}") from error
        self.text = _checked(new, wanted, path)
        if before is not None:
            self._document = document
        return self.text


def remove_value(text: str, path: Sequence[str]) -> str:
    """The text without one value, so that its default holds. Unchanged where it says nothing of it."""
    if value_in(text, path) is None:
        return text
    wanted = _changed(tomllib.loads(text), path, None)
    document = tomlkit.parse(text)
    _table(document, path).remove(path[-1])
    return _checked(tomlkit.dumps(document), wanted, path)


def _table(document: tomlkit.TOMLDocument, path: Sequence[str]) -> Any:  # noqa: ANN401
    inner: Any = document
    for depth, key in enumerate(path[:-1]):
        if key not in inner:
            if depth or len(path) > 2:
                raise OptionError(
                    f"there is no [{'.'.join(path[:-1])}] to change", "name a table of the profile"
                )
            inner.append(key, tomlkit.table())
        inner = inner[key]
    return inner


def _item(value: Scalar, before: object) -> Item:
    if isinstance(value, float) and value.is_integer() and (before is None or isinstance(before, Integer)):
        value = int(value)
    item = tomlkit.item(value)
    if isinstance(before, Item) and not isinstance(before, Table | InlineTable):
        was = before.trivia
        item._trivia = Trivia(was.indent, was.comment_ws, was.comment, was.trail)  # noqa: SLF001
    return item


def _place(table: object, added: Item) -> None:
    """Put a new key right after the last one of its table: comments above the next table stay with that.

    Only the order for writing is changed; the document must be thrown away after that.
    """
    if isinstance(table, InlineTable):
        added.trivia.trail = " "
    elif isinstance(table, Table):
        body = table.value.body
        at = next(number for number, (_, item) in enumerate(body) if item is added)
        keys = [
            number
            for number, (key, item) in enumerate(body)
            if key is not None and item is not added and not isinstance(item, Table | AoT)
        ]
        if keys and keys[-1] + 1 < at:
            body.insert(keys[-1] + 1, body.pop(at))


def _changed(tables: dict[str, Any], path: Sequence[str], value: Scalar | None) -> dict[str, Any]:
    changed = copy.deepcopy(tables)
    inner: Any = changed
    for key in path[:-1]:
        inner = inner.setdefault(key, {})
    if value is None:
        inner.pop(path[-1])
    else:
        inner[path[-1]] = value
    return changed


def _checked(new: str, wanted: dict[str, Any], path: Sequence[str]) -> str:
    if tomllib.loads(new) != wanted:
        raise InternalError(f"writing {'.'.join(path)} would have changed something else as well")
    return new
