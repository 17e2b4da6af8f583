"""Where in a profile's text a value stands that a loadout may say otherwise."""

from collections.abc import Sequence

from mixer.profile.edit.document import Tables


def place_of(tables: Tables, path: tuple[str, ...], loadout: str | None) -> tuple[str, ...]:
    """Where a loadout's value has to be changed: in its own tables where they speak of it."""
    if loadout is None:
        return path
    own = ("loadout", loadout, *path)
    in_base, in_own = _depth(tables, path), _depth(tables, own) - 2
    return own if in_own == len(path) or in_own > in_base else path


def _depth(tables: object, path: Sequence[str]) -> int:
    depth = 0
    for key in path:
        if not isinstance(tables, dict) or key not in tables:
            break
        tables, depth = tables[key], depth + 1
    return depth
