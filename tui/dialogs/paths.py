"""Names of files, completed as far as only one way leads on."""

import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

MOST = 200
"""Names looked at in one folder: beyond that nobody reads on."""


class Completed(NamedTuple):
    """What tab makes of the beginning of a path."""

    text: str
    """As far as all that fit agree; a folder that is the only one ends in a slash."""
    names: Sequence[str]
    """Those that fit, folders with a slash; empty where none does."""


def completed(text: str) -> Completed:
    """Complete a path, which may begin with ``~``. Files that begin with a dot only when asked for."""
    head, typed = os.path.split(text)
    folder = Path(head or ".").expanduser()
    try:
        found = sorted(entry for entry in folder.iterdir() if _fits(entry.name, typed))[:MOST]
    except OSError:
        return Completed(text, ())
    names = [f"{entry.name}/" if entry.is_dir() else entry.name for entry in found]
    if not names:
        return Completed(text, ())
    shared = os.path.commonprefix(names)  # noqa: RUF071  letters, not folders
    return Completed(os.path.join(head, shared), names)  # noqa: PTH118  keeps ./ and ~


def _fits(name: str, typed: str) -> bool:
    return name.startswith(typed) and (typed.startswith(".") or not name.startswith("."))
