"""Which tuning was exported under which fingerprint: kept beside the profile, for the day a board tells it.

A board knows twelve digits of what runs on it and nothing else. So every export leaves the values behind
here, a line of JSON each in ``NAME.exported.jsonl``, and a line in the journal. Lines are only ever added.
"""

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from mixer.examples.shipped import is_shipped
from mixer.files import add_line
from mixer.profile.edit.document import Editor
from mixer.profile.journal import local_time, note
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of

READ_BYTES = 8_000_000
"""Of a file longer than some thousand exports its end is read."""


@dataclass(frozen=True, slots=True)
class Exported:
    """One export."""

    at: str
    """Local time, as the journal writes it."""
    fingerprint: str
    loadout: str | None
    """As `mixer.profile.read.fitting` names it; None for the base robot."""
    without: tuple[str, ...]
    """What was taken as dead."""
    tables: Mapping[str, Any]
    """What the whole profile said."""


def exported_of(profile: Path) -> Path:
    """Where a profile's exports are kept."""
    return profile.with_name(f"{profile.stem}.exported.jsonl")


def keep(profile: Profile, loadout: str | None, folder: Path) -> None:
    """Keep what goes onto a board from this folder. Nothing is kept beside the robots that are shipped.

    Raises WriteError where it cannot be kept.
    """
    path = profile.path
    if path is None or is_shipped(path):
        return
    fingerprint = profile.fingerprint(loadout)
    tables = Editor(profile.text).tables
    export = Exported(local_time(), fingerprint, loadout, profile.taken, tables)
    last = next(_kept(path), None)
    if last is None or (last.fingerprint, last.tables) != (fingerprint, tables):
        add_line(exported_of(path), json.dumps(asdict(export), separators=(",", ":"), ensure_ascii=False))
    note(path, fingerprint, f"exported, {fitting_of(loadout).title}, to {folder}")


def export_with(profile: Path, fingerprint: str) -> Exported | None:
    """The newest export with this fingerprint; None where none is known."""
    return next((export for export in _kept(profile) if export.fingerprint == fingerprint), None)


def _kept(profile: Path) -> Iterator[Exported]:
    """Newest first; lines that are no export are passed over."""
    try:
        with exported_of(profile).open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - READ_BYTES))
            lines = file.read(min(size, READ_BYTES)).decode("utf-8", "replace").splitlines()
    except OSError:
        return
    for line in reversed(lines):
        export = _export(line)
        if export is not None:
            yield export


def _export(line: str) -> Exported | None:
    try:
        said = json.loads(line)
        export = Exported(**{**said, "without": tuple(said["without"])})
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    texts = export.at, export.fingerprint, export.loadout or "", *export.without
    fits = all(isinstance(text, str) for text in texts) and isinstance(export.tables, dict)
    return export if fits else None
