"""From tables to a robot, with every complaint: first what each table may hold, then contradictions."""

import re
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from mixer.profile.checks.channels import check_channels
from mixer.profile.checks.guard import check_guard
from mixer.profile.checks.names import check_names
from mixer.profile.checks.outputs import check_outputs
from mixer.profile.checks.physical import check_physical
from mixer.profile.checks.wording import complaint_of
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.read.overlay import Table, with_loadout
from mixer.profile.schema.root import Robot

_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
MOST_WORDED = 200
"""Complaints of one reading that are put in words; the search for what was meant is slow."""
_SINGLE = ("robot", "receiver", "guard", "flip", "battery", "chassis", "match")
_HARMLESS = ("pin", "direction_pin", "bridge", "receiver", "trim", "gain", "limit", "breakaway", "motors")
"""Keys whose default cannot make another value of the same thing look wrong."""
_CHECKS = (check_names, check_channels, check_outputs, check_guard, check_physical)


def robot_of(tables: Table) -> tuple[Robot | None, list[Complaint]]:
    """The robot, or None with what is wrong with it.

    Where single values are wrong, they are taken out and the rest is still held to every check, so
    that one reading shows all there is to mend.
    """
    robot, complaints = _validated(tables)
    if robot is not None:
        found = list(contradictions_of(robot))
        return (None if found else robot), found
    partly, gone = _partly(tables, complaints)
    if partly is not None:
        complaints += _untouched(contradictions_of(partly), complaints[:MOST_WORDED] + gone)
    return None, complaints


def _partly(tables: Table, complaints: list[Complaint]) -> tuple[Robot | None, list[Complaint]]:
    """What is left without the wrong values, or failing that without the things that hold them.

    With it, a complaint for each thing that had to go, since others may refer to it.
    """
    mended = with_loadout(tables, {})
    for number, complaint in enumerate(complaints):
        _take_out(mended, complaint.path, f"unset{number}" if complaint.path[-1:] == ("pin",) else None)
    partly, left = _validated(mended)
    gone = [Complaint(_thing(complaint.path), "", "") for complaint in left]
    if partly is None:
        for complaint in gone:
            _take_out(mended, complaint.path)
        mended["robot"] = {"name": "nameless"} | _as_table(mended.get("robot"))
        partly, _ = _validated(mended)
    return partly, gone


def _thing(path: KeyPath) -> KeyPath:
    """The path of the named thing a key belongs to; a list of things goes as a whole."""
    return path[:1] if len(path) > 1 and isinstance(path[1], int) else path[:2]


def _as_table(value: object) -> Table:
    return value if isinstance(value, dict) else {}


def contradictions_of(robot: Robot) -> Iterator[Complaint]:
    """What each value alone may be and all together may not."""
    for check in _CHECKS:
        yield from check(robot)


def check_name(path: KeyPath, name: str) -> Iterator[Complaint]:
    """A complaint where a name is none."""
    if not _NAME.fullmatch(name):
        remedy = "begin with a small letter, then small letters, digits and _, 40 at most"
        yield Complaint(path, f"{name!r} cannot be a name", remedy)


def _validated(tables: Table) -> tuple[Robot | None, list[Complaint]]:
    try:
        return Robot.model_validate(tables), []
    except ValidationError as error:
        details = error.errors(include_url=False)
        complaints = [complaint_of(detail, Robot) for detail in details[:MOST_WORDED]]
        worded = [complaint for complaint in complaints if not _said_better(complaint, complaints)]
        return None, worded + [_unworded(detail) for detail in details[MOST_WORDED:]]


def _unworded(detail: ErrorDetails) -> Complaint:
    """One of so many that nobody reads it: it only counts."""
    return Complaint(tuple(detail["loc"]), detail["type"].replace("_", " "), "mend the others first")


def _said_better(complaint: Complaint, others: list[Complaint]) -> bool:
    """Whether another complaint says the same nearer to its cause.

    A list is too short because an entry is wrong; a key is missing because it is misspelt.
    """
    path = complaint.path
    if complaint.said.startswith("has too few entries"):
        return any(other.path[: len(path)] == path != other.path for other in others)
    hint = f"did you mean {path[-1]!r}?" if complaint.said == "is missing" and path else None
    return hint is not None and any(
        other.path[:-1] == path[:-1] and other.remedy.startswith(hint) for other in others
    )


def _take_out(tables: Table, path: KeyPath, instead: str | None = None) -> None:
    inner: Any = tables
    for key in path[:-1]:
        if isinstance(inner, dict):
            inner = inner.get(str(key))
        elif isinstance(inner, list) and isinstance(key, int) and key < len(inner):
            inner = inner[key]
        else:
            return
    if isinstance(inner, dict):
        inner.pop(str(path[-1]), None)
        if instead is not None:
            inner[str(path[-1])] = instead


def _untouched(found: Iterator[Complaint], earlier: list[Complaint]) -> list[Complaint]:
    """Complaints that cannot be mere consequences of what was taken out earlier."""
    return [complaint for complaint in found if not any(_follows(complaint, cause) for cause in earlier)]


def _follows(complaint: Complaint, cause: Complaint) -> bool:
    """Whether a complaint may follow from another's value having been taken out."""
    section = str(cause.path[0])
    if len(cause.path) < 2 or section in _SINGLE:
        return complaint.path[0] == section or f"[{section}]" in complaint.said
    name = str(cause.path[1])
    if len(cause.path) == 2 or section == "switch":
        words = re.findall(r"[A-Za-z0-9_]+", " ".join((*map(str, complaint.path), complaint.said)))
        return name in words
    return complaint.path[:2] == cause.path[:2] and cause.path[2] not in _HARMLESS
