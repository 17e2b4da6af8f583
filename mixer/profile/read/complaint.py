"""A complaint about a robot before it is known where in which file its key stands."""

from dataclasses import dataclass

from mixer.profile.read.lines import KeyPath


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is wrong at a key path, and what would be right; `Problem` adds file and line."""

    path: KeyPath
    said: str
    remedy: str
