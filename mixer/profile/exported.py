"""What was exported under which fingerprint: kept beside the profile, for the day a board tells it.

A board knows twelve digits of its mix and twelve of its wiring, and nothing else. So every export leaves
the values behind here, a line of JSON each in ``NAME.exported.jsonl``, and a line in the journal. Lines are
only ever added.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from mixer.errors import StickwrightError
from mixer.examples.shipped import is_shipped
from mixer.files import add_line
from mixer.profile.edit.document import Editor
from mixer.profile.journal import last_lines, local_time, note
from mixer.profile.profile import Profile, parse_profile
from mixer.profile.read.fitting import fitting_of

READ_BYTES = 8_000_000
"""Of a file longer than some thousand exports its end is read."""


@dataclass(frozen=True, slots=True)
class Wired:
    """The wiring of an export that has one."""

    board: str
    """The board's key."""
    fingerprint: str
    settings: Mapping[str, str]
    """Every number of it for people: ``pin of left`` is ``GP4``."""


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
    wired: Wired | None = None
    """What its firmware was built for; None for a mix alone."""


def exported_of(profile: Path) -> Path:
    """Where a profile's exports are kept."""
    return profile.with_name(f"{profile.stem}.exported.jsonl")


def keep(profile: Profile, loadout: str | None, folder: Path, wired: Wired | None = None) -> None:
    """Keep what goes onto a board from this folder. Nothing is kept beside the robots that are shipped.

    Raises WriteError where it cannot be kept.
    """
    path = profile.path
    if path is None or is_shipped(path):
        return
    fingerprint = profile.fingerprint(loadout)
    tables = Editor(profile.text).tables
    export = Exported(local_time(), fingerprint, loadout, profile.taken, tables, wired)
    last = next(_kept(path), None)
    if last is None or (last.fingerprint, last.tables, last.wired) != (fingerprint, tables, wired):
        add_line(exported_of(path), json.dumps(asdict(export), separators=(",", ":"), ensure_ascii=False))
    wires = f", wiring {wired.fingerprint} of board {wired.board}" if wired else ""
    note(path, fingerprint, f"exported, {fitting_of(loadout).title}{wires}, to {folder}")


def export_with(profile: Path, fingerprint: str) -> Exported | None:
    """The newest export with this fingerprint; None where none is known."""
    return next((export for export in _kept(profile) if export.fingerprint == fingerprint), None)


def export_wired(profile: Path, wiring: str) -> Exported | None:
    """The newest export whose wiring has this fingerprint; None where none is known."""
    wired = (export for export in _kept(profile) if export.wired and export.wired.fingerprint == wiring)
    return next(wired, None)


def profile_of(export: Exported) -> Profile | None:
    """The profile as it was; None where it is none any more, for this version of Stickwright."""
    try:
        profile = parse_profile("", "an export", dict(export.tables)).without(export.without)
        profile.plan(export.loadout)
    except StickwrightError:
        return None
    return profile


def _kept(profile: Path) -> Iterator[Exported]:
    """Newest first; lines that are no export are passed over."""
    for line in reversed(last_lines(exported_of(profile), READ_BYTES)):
        export = _export(line)
        if export is not None:
            yield export


def _export(line: str) -> Exported | None:
    try:
        said = json.loads(line)
        wired = Wired(**said["wired"]) if said.get("wired") is not None else None
        export = Exported(**{**said, "without": tuple(said["without"]), "wired": wired})
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    texts = [export.at, export.fingerprint, export.loadout or "", *export.without]
    tables = [export.tables]
    if wired is not None:
        tables.append(wired.settings)
        texts += [wired.board, wired.fingerprint]
    fits = all(isinstance(text, str) for text in texts) and all(isinstance(each, dict) for each in tables)
    return export if fits else None
