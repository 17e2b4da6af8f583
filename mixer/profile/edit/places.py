"""Where in a profile's text a value stands that an overlay may say otherwise."""

from collections.abc import Sequence

from mixer.profile.edit.document import Tables
from mixer.profile.read.fitting import fitting_of


def place_of(tables: Tables, path: tuple[str, ...], loadout: str | None) -> tuple[str, ...]:
    """Where a loadout's value has to be changed: in the last of its tables that speak of it, else the base.

    A whole thing that only one of them has is theirs as well.
    """
    places = [(section, name, *path) for section, name in fitting_of(loadout).overlays]
    for own in places:
        if _depth(tables, own) == len(own):
            return own
    in_base = _depth(tables, path)
    return next((own for own in places if _depth(tables, own) - 2 > in_base), path)


def _depth(tables: object, path: Sequence[str]) -> int:
    depth = 0
    for key in path:
        if not isinstance(tables, dict) or key not in tables:
            break
        tables, depth = tables[key], depth + 1
    return depth
