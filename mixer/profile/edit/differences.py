"""What two states of a profile differ in, value by value, and the same differences laid over a third."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.errors import StickwrightError
from mixer.profile.edit.document import Editor, Scalar, Tables


@dataclass(frozen=True, slots=True)
class Change:
    """One value that two states differ in."""

    key: str
    """Dotted, as the file says it: ``output.left.gain``, ``loadout.bare.chassis.mass_kg``."""
    was: object
    """None where the file says nothing and the default holds."""
    now: object

    def __str__(self) -> str:
        return f"{self.key}: {_said(self.was)} -> {_said(self.now)}"


def differences(before: Tables, after: Tables) -> tuple[Change, ...]:
    """Every value that differs, in the order of `before`, then what is new. Lists count as one value."""
    return tuple(_differences(before, after, ""))


def laid_over(text: str, changes: Sequence[Change]) -> tuple[Editor, tuple[Change, ...]]:
    """The text with these values changed too, and those that found no place in it."""
    editor, left = Editor(text), []
    for change in changes:
        path = change.key.split(".")
        try:
            if change.now is None:
                editor.remove(path)
            elif isinstance(change.now, Scalar):
                editor.set(path, change.now)
            else:
                left.append(change)
        except StickwrightError:
            left.append(change)
    return editor, tuple(left)


def _differences(before: Tables, after: Tables, start: str) -> Iterator[Change]:
    for key in dict.fromkeys((*before, *after)):
        was, now = before.get(key), after.get(key)
        if was == now and type(was) is type(now):
            continue
        if all(item is None or isinstance(item, dict) for item in (was, now)):
            yield from _differences(was or {}, now or {}, f"{start}{key}.")
        elif was != now:
            yield Change(f"{start}{key}", was, now)


def _said(value: object) -> str:
    if isinstance(value, dict):
        return "a table of its own"
    return "not set" if value is None else str(value)
