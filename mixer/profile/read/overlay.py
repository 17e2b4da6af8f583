"""Loadouts: the base robot with things taken out and others laid over it, all on plain TOML tables.

`remove` takes out first, then the rest of the loadout is laid over table by table. A value replaces a
value, `[[part]]` entries replace those of their name or are added, and the tables that are one choice
(`shape`, `arm`, `screw`) are replaced whole.
"""

from collections.abc import Iterator, Mapping
from typing import Any, TypeAlias

from mixer.errors import offer
from mixer.profile.read.complaint import Complaint

Table: TypeAlias = dict[str, Any]

ONE_CHOICE = ("shape", "arm", "screw")
"""Tables of which nothing is kept where another is laid over."""


def with_loadout(base: Table, loadout: Table) -> Table:
    """The base robot's tables in this loadout; neither argument is changed."""
    result = _copy(base)
    for dotted in _removed(loadout):
        _remove(result, dotted.split("."))
    changes = {key: value for key, value in loadout.items() if key != "remove"}
    return _laid_over(result, changes, depth=0)


def laid_over(base: Table, changes: Table) -> Table:
    """Tables with others laid over them; neither argument is changed."""
    return _laid_over(_copy(base), changes, depth=0)


def complaints_of_removal(name: str, base: Table, loadout: Table) -> Iterator[Complaint]:
    """Complaints about a loadout's own `remove` list."""
    listed = loadout.get("remove", [])
    path = ("loadout", name, "remove")
    if not isinstance(listed, list) or not all(isinstance(item, str) for item in listed):
        said = f"must be a list of names, not {listed!r}"
        yield Complaint(path, said, 'write remove = ["output.tray", "actuator.tray"]')
        return
    for number, dotted in enumerate(listed):
        if not _has(base, dotted.split(".")):
            known = offer(dotted, _removable(base), "things")
            yield Complaint((*path, number), f"the robot has no {dotted!r} to remove", known)
        elif dotted in listed[:number]:
            yield Complaint((*path, number), f"{dotted!r} stands there twice", "name each once")


def _removed(loadout: Table) -> list[str]:
    listed = loadout.get("remove", [])
    return [item for item in listed if isinstance(item, str)] if isinstance(listed, list) else []


def _removable(base: Table) -> list[str]:
    names = []
    for section, content in base.items():
        if isinstance(content, Mapping):
            names += [f"{section}.{key}" for key in content if isinstance(content[key], Mapping)]
        elif section == "part":
            names += [f"part.{item['name']}" for item in _parts(content)]
    return names


def _parts(value: object) -> list[Table]:
    if not isinstance(value, list):
        return []
    return [item for item in value if isinstance(item, dict) and isinstance(item.get("name"), str)]


def _has(table: object, keys: list[str]) -> bool:
    for number, key in enumerate(keys):
        if isinstance(table, list):
            return number == len(keys) - 1 and any(item["name"] == key for item in _parts(table))
        if not isinstance(table, Mapping) or key not in table:
            return False
        table = table[key]
    return True


def _remove(table: Table, keys: list[str]) -> None:
    inner: Any = table
    for key in keys[:-1]:
        inner = inner.get(key) if isinstance(inner, dict) else None
    if isinstance(inner, dict):
        inner.pop(keys[-1], None)
    elif isinstance(inner, list):
        inner[:] = [item for item in inner if item not in _parts(inner) or item["name"] != keys[-1]]


def _laid_over(base: Table, changes: Table, depth: int) -> Table:
    for key, value in changes.items():
        before = base.get(key)
        if isinstance(value, dict) and isinstance(before, dict) and not (depth and key in ONE_CHOICE):
            base[key] = _laid_over(before, value, depth + 1)
        elif depth == 0 and key == "part" and isinstance(value, list) and isinstance(before, list):
            names = {item["name"] for item in _parts(value)}
            kept = [item for item in before if item not in _parts(before) or item["name"] not in names]
            base[key] = kept + _copy(value)
        else:
            base[key] = _copy(value)
    return base


def _copy(value: Any) -> Any:  # noqa: ANN401 - TOML's values are of any type
    if isinstance(value, dict):
        return {key: _copy(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_copy(item) for item in value]
    return value
