"""Tuning: one value of the profile changed, tried, undone, compared and saved, while the robot drives.

The truth is the profile's text, one for each of the two sides A and B. An edit makes a new text; only one
that passes every check of the profile is taken, and then handed to `apply`, which swaps the plan. Whatever
differs from the file is in the recovery file before `set` returns.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mixer.errors import InternalError, OptionError, ProfileError, StickwrightError
from mixer.live.tuning.history import History
from mixer.live.tuning.recovery import Kept, RecoveryFile
from mixer.live.views.status import TuningView
from mixer.profile import Profile, parse_profile
from mixer.profile.edit.document import Editor, Scalar, Tables
from mixer.profile.edit.knobs import Knob, knob_value, knobs_of
from mixer.profile.edit.save import save_text

SIDES = ("A", "B")


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs from the file."""

    key: str
    was: Scalar | None
    now: Scalar | None


@dataclass(frozen=True, slots=True)
class Recovered:
    """Unsaved edits of an earlier run."""

    changes: tuple[Change, ...]
    """What its side in use differs in from the file as it is now."""
    file_changed: bool
    """The profile's file has been written since."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What has been worked out for one pair of profile and file."""

    of: tuple[str, str, str | None]
    knobs: tuple[Knob, ...]
    by_key: Mapping[str, Knob]
    changes: tuple[Change, ...]


class Tuning:
    """The values of one profile that can be turned, in one loadout."""

    def __init__(
        self,
        profile: Profile,
        loadout: str | None,
        apply: Callable[[Profile], None],
        recovery: RecoveryFile,
    ) -> None:
        self.profile = profile
        self.loadout = loadout
        """The loadout that is tuned; may be changed at any time."""
        self.refused = ""
        """Why the last edit was not taken; empty when it was."""
        self._apply, self._recovery = apply, recovery
        self._file = profile
        self._sides = {side: History(profile.text) for side in SIDES}
        self._side = SIDES[0]
        self._cache: _Known | None = None
        self._editor = Editor(profile.text)
        kept = recovery.read()
        texts = () if kept is None else (kept.a, kept.b)
        self._kept = kept if any(text != profile.text for text in texts) else None
        if kept is not None and self._kept is None:
            recovery.settle()

    @property
    def knobs(self) -> tuple[Knob, ...]:
        """Everything that can be turned, section by section."""
        return self._known().knobs

    def knob(self, key: str) -> Knob:
        """One of them. Raises OptionError for an unknown key."""
        found = self._known().by_key.get(key)
        if found is not None:
            return found
        raise OptionError(f"{key} cannot be tuned", "choose one of the listed values")

    def value(self, key: str) -> Scalar | None:
        """What holds now."""
        return knob_value(self.profile.robot(self.loadout), self.knob(key))

    def file_value(self, key: str) -> Scalar | None:
        """What the file says."""
        return knob_value(self._file.robot(self.loadout), self.knob(key))

    def set(self, key: str, value: Scalar, *, drag: bool = False) -> str:
        """Change one value; empty when taken, else what is wrong in words, and the old value stays.

        Values of one drag (`drag` given for all but the first) are undone together.
        """
        try:
            knob = self.knob(key)
            fitting = _fitting(knob, value)
            if fitting == self.value(key):
                self.refused = ""
                return ""
            editor = self._edited()
            editor.set(place_of(editor.tables, knob.path, self.loadout), fitting)
            return self._take(editor, key, drag=drag)
        except (StickwrightError, InternalError) as error:
            self.refused = words_of(error)
            return self.refused

    def reset(self, key: str) -> str:
        """Back to what the file says."""
        was = self.file_value(key)
        if was is not None:
            return self.set(key, was)
        editor = self._edited()
        editor.remove(place_of(editor.tables, self.knob(key).path, self.loadout))
        return self._take(editor, key)

    def undo(self) -> str:
        """Take the last edit of this side back; the key it concerned, empty when there is none."""
        return self._moved(self._sides[self._side].undo())

    def redo(self) -> str:
        """Make the last undone edit again; its key, empty when there is none."""
        return self._moved(self._sides[self._side].redo())

    def swap(self) -> str:
        """Change over to the other side; its name."""
        self._side = SIDES[1 - SIDES.index(self._side)]
        self._moved("swap")
        return self._side

    def copy_across(self) -> None:
        """Make the other side equal to this one (it can be undone there)."""
        other = SIDES[1 - SIDES.index(self._side)]
        self._sides[other].change(self._sides[self._side].text, "copied from the other side")
        self._keep(sync=True)

    def changes(self) -> Sequence[Change]:
        """What differs from the file, in the order of the knobs."""
        return self._known().changes

    def save(self, path: Path | None = None) -> Path | None:
        """Write this side to the profile's file, or to another; the backup's path, None if there is none.

        Raises StickwrightError where it cannot be written or somebody else has changed it.
        """
        target = path or self._file.path
        if target is None:
            raise OptionError("this profile has no file", "save it under a name")
        text = self._sides[self._side].text
        own = target == self._file.path
        backup = save_text(target, text, self._file.text if own else None)
        if own:
            self._file = replace(self.profile, path=target)
            self._keep(sync=True)
        return backup

    def recovered(self) -> Recovered | None:
        """Unsaved edits of an earlier run, as long as nobody has decided about them."""
        if self._kept is None:
            return None
        try:
            found = parse_profile(_text_in_use(self._kept), self._file.where)
            differing = changes_between(self._file, found, self.loadout)
        except StickwrightError:
            return None
        return Recovered(differing, self._kept.file_text != self._file.text)

    def settle_recovered(self, *, take: bool) -> str:
        """Take the earlier edits over (undone with one step on each side), or give them up."""
        kept, self._kept = self._kept, None
        if kept is None:
            return ""
        self._recovery.settle()
        if take:
            for side, text in zip(SIDES, (kept.a, kept.b), strict=True):
                self._sides[side].change(text, "recovered")
            self._side = kept.side if kept.side in SIDES else SIDES[0]
            self._moved("recovered")
        else:
            self._keep(sync=True)
        return "recovered" if take else ""

    def view(self) -> TuningView:
        """What a snapshot tells of the tuning."""
        side = self._sides[self._side]
        saved = side.text == self._file.text
        changed = 0 if saved else len(self._known().changes)
        return TuningView(self._side, changed, side.undo_depth, side.redo_depth, self.refused, saved)

    def _known(self) -> "_Known":
        """Knobs and changes of the present profile, worked out once for each."""
        known = self._cache
        if known is None or known.of != (self.profile.text, self._file.text, self.loadout):
            knobs = knobs_of(self.profile.robot(self.loadout))
            known = self._cache = _Known(
                (self.profile.text, self._file.text, self.loadout),
                knobs,
                {knob.key: knob for knob in knobs},
                changes_between(self._file, self.profile, self.loadout),
            )
        return known

    def _edited(self) -> Editor:
        """The text of the side in use with what it says; it is read once, however often it is edited."""
        text = self._sides[self._side].text
        if self._editor.text != text:
            self._editor = Editor(text)
        return self._editor

    def _take(self, editor: Editor, label: str, *, drag: bool = False) -> str:
        profile = parse_profile(editor.text, self._file.where, editor.tables)
        profile.plan(self.loadout)
        self._sides[self._side].change(editor.text, label, joins=drag)
        self.profile, self.refused = profile, ""
        self._keep(sync=not drag)
        self._apply(profile)
        return ""

    def _moved(self, label: str) -> str:
        """The side's text has changed over to one that was checked before."""
        self.refused = ""
        text = self._sides[self._side].text
        if label and text != self.profile.text:
            self.profile = parse_profile(text, self._file.where)
            self._apply(self.profile)
        if label:
            self._keep(sync=True)
        return label

    def _keep(self, *, sync: bool) -> None:
        a, b = (self._sides[side].text for side in SIDES)
        if a == b == self._file.text:
            self._recovery.drop()
        else:
            self._recovery.write(Kept(self._file.where, self._file.text, self._side, a, b), sync=sync)


def changes_between(before: Profile, after: Profile, loadout: str | None) -> tuple[Change, ...]:
    """Every knob's value that differs between two states of one profile."""
    old, new = before.robot(loadout), after.robot(loadout)
    rows = ((knob.key, knob_value(old, knob), knob_value(new, knob)) for knob in knobs_of(new))
    return tuple(Change(key, was, now) for key, was, now in rows if was != now)


def place_of(tables: Tables, path: tuple[str, ...], loadout: str | None) -> tuple[str, ...]:
    """Where a loadout's value has to be changed: in its own tables where they speak of it."""
    if loadout is None:
        return path
    own = ("loadout", loadout, *path)
    in_base, in_own = _depth(tables, path), _depth(tables, own) - 2
    return own if in_own == len(path) or in_own > in_base else path


def _depth(tables: Any, path: Sequence[str]) -> int:  # noqa: ANN401
    depth = 0
    for key in path:
        if not isinstance(tables, dict) or key not in tables:
            break
        tables, depth = tables[key], depth + 1
    return depth


def words_of(error: Exception) -> str:
    """A refusal as one line: what is wrong and what would be right."""
    if isinstance(error, ProfileError):
        return "; ".join(f"{problem.said}: {problem.remedy}" for problem in error.problems)
    if isinstance(error, StickwrightError):
        return f"{error.said}: {error.remedy}" if error.remedy else error.said
    return str(error)


def _text_in_use(kept: Kept) -> str:
    return kept.b if kept.side == "B" else kept.a


def _fitting(knob: Knob, value: Scalar) -> Scalar:
    """The value in the form the file holds it; what it may be is for the profile to say."""
    if knob.kind == "number" and isinstance(value, int | float) and not isinstance(value, bool):
        return round(float(value), 6)
    if knob.kind == "whole" and isinstance(value, float) and value.is_integer():
        return int(value)
    return value
