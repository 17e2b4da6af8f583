"""Which tuning a board runs, by the fingerprint it tells, and what has changed here since.

Asked in this order: the tuning in use, the same profile in other states (its file, before an edit), its
other loadouts, the exports kept beside it (`exported`), the journal. What none of them knows is said to be
unknown: no guess is made from how much or how little differs.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from mixer.core.plan import Plan
from mixer.errors import StickwrightError
from mixer.profile.checks.validation import robot_of
from mixer.profile.edit.differences import Change, differences, with_changes
from mixer.profile.exported import export_with, profile_of
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.journal import BY_HAND, Entry, entries
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of
from mixer.profile.read.overlay import Table

TOLD = 4
"""Most changes that are told one by one."""
LOOKED_THROUGH = 1000
"""Lines of the journal, from its end."""
FLASH = "export this tuning and flash it"


class Runs(StrEnum):
    """What a board's mix is to the tuning in use."""

    THIS = "this"
    OTHER = "other"
    """The same profile in another state or another loadout."""
    OLDER = "older"
    """One that was exported or saved some time."""
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Tunings:
    """What there is to know a board's fingerprint by."""

    profile: Profile
    """The one in use."""
    loadout: str | None = None
    others: tuple[tuple[str, Profile], ...] = ()
    """The same profile in other states, each with what that is called."""
    path: Path | None = None
    """Where the profile's file stands, for one that has been edited; default: the profile's own path."""

    @property
    def file(self) -> Path | None:
        """What exports and journal stand beside."""
        return self.path or self.profile.path

    @property
    def plan(self) -> Plan:
        """What is compared with a board."""
        return self.profile.plan(self.loadout)


@dataclass(frozen=True, slots=True)
class Aboard:
    """What is known of the mix on a board."""

    fingerprint: str
    here: str
    """The fingerprint of the tuning in use."""
    runs: Runs
    what: str = ""
    """Which tuning that is, where it is another one and known."""
    changes: tuple[Change, ...] = ()
    """What the mix goes by and has changed since."""
    noted: tuple[str, ...] = ()
    """Where no values are kept: what the journal says was done since."""
    plan: Plan | None = None
    """What runs on the board, where its values are known."""

    def words(self) -> str:
        """One sentence for people."""
        if self.runs is Runs.THIS:
            return f"it runs {self.fingerprint}, the tuning in use here"
        if self.runs is Runs.UNKNOWN:
            return f"it runs {self.fingerprint}, of which nothing is known here; in use is {self.here}"
        return f"it runs {self.fingerprint}, {self.what}; in use is {self.here}{self._since()}"

    def remedy(self) -> str:
        """What to do; empty where all is well."""
        if self.runs is Runs.THIS:
            return ""
        if self.runs is Runs.UNKNOWN:
            return f"{FLASH}, or take the profile and loadout whose mix.h begins with {self.fingerprint}"
        return FLASH

    def _since(self) -> str:
        since = self.changes or self.noted
        return f"; since then: {first_few(since)}" if since else ""


def first_few(things: Sequence[object]) -> str:
    """The first few of them, and how many more there are."""
    more = f"; and {len(things) - TOLD} more" if len(things) > TOLD else ""
    return "; ".join(map(str, things[:TOLD])) + more


def aboard(tunings: Tunings, fingerprint: str) -> Aboard:
    """What is known of a mix with this fingerprint."""
    here = tunings.profile.fingerprint(tunings.loadout)
    if fingerprint == here:
        return Aboard(fingerprint, here, Runs.THIS, plan=tunings.plan)
    for found in (_in_another_state, _as_another_loadout, _as_exported, _as_noted):
        known = found(tunings, fingerprint, here)
        if known is not None:
            return known
    return Aboard(fingerprint, here, Runs.UNKNOWN)


def _in_another_state(tunings: Tunings, fingerprint: str, here: str) -> Aboard | None:
    """The same loadout, before an edit."""
    for name, profile in tunings.others:
        try:
            if profile.fingerprint(tunings.loadout) != fingerprint:
                continue
            before = profile.tables(tunings.loadout)
        except StickwrightError:
            continue
        moved = moving(before, tunings.profile.tables(tunings.loadout))
        plan = profile.plan(tunings.loadout)
        return Aboard(fingerprint, here, Runs.OTHER, name, moved, plan=plan)
    return None


def _as_another_loadout(tunings: Tunings, fingerprint: str, here: str) -> Aboard | None:
    for name, profile in (("", tunings.profile), *tunings.others):
        loadout = profile.loadout_of(fingerprint)
        if loadout is None and profile.fingerprint() != fingerprint:
            continue
        what = f"{fitting_of(loadout).title} of {name or 'this profile'}"
        what += f", and not {fitting_of(tunings.loadout).title}"
        return Aboard(fingerprint, here, Runs.OTHER, what, plan=profile.plan(loadout))
    return None


def _as_exported(tunings: Tunings, fingerprint: str, here: str) -> Aboard | None:
    export = None if tunings.file is None else export_with(tunings.file, fingerprint)
    if export is None:
        return None
    what, plan = f"exported {export.at}", None
    changes: tuple[Change, ...] = ()
    if export.loadout != tunings.loadout:
        what += f" as {fitting_of(export.loadout).title}, and not {fitting_of(tunings.loadout).title}"
    profile = profile_of(export)
    if profile is not None:
        before, after = profile.tables(export.loadout), tunings.profile.tables(tunings.loadout)
        changes = moving(before, after)
        same = profile.fingerprint(export.loadout) == fingerprint
        plan = profile.plan(export.loadout) if same else None
    if profile is not None and not changes:
        what += ", and no key of the mix has changed: was it another version of Stickwright?"
    return Aboard(fingerprint, here, Runs.OLDER, what, changes, plan=plan)


def _as_noted(tunings: Tunings, fingerprint: str, here: str) -> Aboard | None:
    """What the journal has to say: when it was, and which lines came after it."""
    lines = () if tunings.file is None else entries(tunings.file, LOOKED_THROUGH)
    last = max((n for n, entry in enumerate(lines) if entry.fingerprint == fingerprint), default=-1)
    if last < 0:
        return None
    said = lines[last]
    what = f"of {said.at} by the journal ({said.what})"
    noted = tuple(_done(entry) for entry in lines[last + 1 :] if _is_done(entry))
    return Aboard(fingerprint, here, Runs.OLDER, what, noted=noted)


def _is_done(entry: Entry) -> bool:
    return entry.fingerprint == BY_HAND or entry.what.startswith("saved")


def _done(entry: Entry) -> str:
    return f"{entry.at} {entry.what}".strip()


def moving(before: Table, after: Table) -> tuple[Change, ...]:
    """The changes from one robot's tables to another's that the mix goes by.

    Each is tried alone, taken back here and made there. What can be tried neither way is told as well.
    """
    changes = differences(before, after)
    was, now = _mix(before), _mix(after)
    moved = (
        change
        for change in changes
        if _moves(now, after, replace(change, now=change.was)) or _moves(was, before, change)
    )
    return tuple(moved)


def _moves(mix: Plan | None, tables: Table, change: Change) -> bool:
    """Whether a robot with one other value has another mix, or none."""
    return _mix(with_changes(tables, [change])) != mix


def _mix(tables: Table) -> Plan | None:
    robot, _ = robot_of(tables)
    return None if robot is None else plan_of(robot, "")
