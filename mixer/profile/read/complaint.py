"""A complaint about a robot before it is known where in which file its key stands."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from mixer.profile.read.lines import KeyPath


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is wrong at a key path, and what would be right; `Problem` adds file and line."""

    path: KeyPath
    said: str
    remedy: str


def offer(word: str, known: Iterable[str], what: str) -> str:
    """A remedy for a name nobody knows: the nearest known one, then all of them."""
    names = sorted(known)
    if not names:
        return f"there are no {what} yet: define one, or take {word!r} out"
    near = difflib.get_close_matches(word, names, n=1, cutoff=0.5)
    start = f"did you mean {near[0]!r}? " if near else ""
    return f"{start}known {what}: {', '.join(names)}"
