"""What two states of a profile differ in, and the same differences laid over a third."""

from collections.abc import Callable, Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass

from mixer.errors import StickwrightError
from mixer.profile.edit.document import Editor, Scalar, Tables
from mixer.profile.read.overlay import ONE_CHOICE


@dataclass(frozen=True, slots=True)
class Change:
    """One value that two states differ in, or one turned."""

    key: str
    """Dotted, as the file says it: ``output.left.gain``, ``loadout.bare.chassis.mass_kg``."""
    was: object
    """None where the file says nothing and the default holds."""
    now: object

    def __str__(self) -> str:
        return f"{self.key}: {_said(self.was)} -> {_said(self.now)}"


def differences(before: Tables, after: Tables) -> tuple[Change, ...]:
    """Every value that differs, in the order of `before`, then what is new. Lists count as one value."""
    return tuple(_differences(before, after, "", lambda _key, was, now: not (_is_table(was, now))))


def choices(before: Tables, after: Tables) -> tuple[Change, ...]:
    """The same by what can be had alone: a table that one of them lacks is one, and so is one choice."""
    return tuple(_differences(before, after, "", _is_choice))


def with_changes(tables: Tables, changes: Sequence[Change]) -> Tables:
    """The tables with these values changed; the argument stays as it is."""
    result = deepcopy(tables)
    for change in changes:
        *way, last = change.key.split(".")
        place = result
        for name in way:
            if not isinstance(place.get(name), dict):  # one value there, a table here: shape = "soft"
                place[name] = {}
            place = place[name]
        if change.now is None:
            place.pop(last, None)
        else:
            place[last] = deepcopy(change.now)
    return result


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


def _differences(
    before: Tables, after: Tables, start: str, is_one: Callable[[str, object, object], bool]
) -> Iterator[Change]:
    """What differs; `is_one` says of a key's two values whether they count as one, whatever is in them."""
    for name in dict.fromkeys((*before, *after)):
        was, now, key = before.get(name), after.get(name), f"{start}{name}"
        if was == now:
            continue
        if is_one(key, was, now):
            yield Change(key, was, now)
        else:
            yield from _differences(was or {}, now or {}, f"{key}.", is_one)


def _is_table(was: object, now: object) -> bool:
    """Whether both are tables, one that is not there being an empty one."""
    return all(value is None or isinstance(value, dict) for value in (was, now))


def _is_choice(key: str, was: object, now: object) -> bool:
    section, _, name = key.rpartition(".")
    both = isinstance(was, dict) and isinstance(now, dict)
    return not both or (bool(section) and name in ONE_CHOICE)


def _said(value: object) -> str:
    if isinstance(value, dict):
        return "a table of its own"
    if isinstance(value, float):
        return short if float(short := f"{value:g}") == value else str(value)
    return "not set" if value is None else str(value)
