"""Tuning: one value of the profile changed, tried, undone, compared and saved, while the robot drives.

The truth is the profile's text, one for each of the two sides A and B. An edit makes a new text; only one
that passes every check of the profile is taken, and then handed to `apply`, which swaps the plan. Whatever
differs from the file is in the recovery file before `set` returns.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from mixer.errors import InternalError, OptionError, ProfileError, StickwrightError
from mixer.live.tuning.disk import ProfileFile
from mixer.live.tuning.history import History
from mixer.live.tuning.recovery import Kept, RecoveryFile
from mixer.live.views.status import TuningView
from mixer.profile.edit.differences import Change, differences, laid_over
from mixer.profile.edit.document import Editor, Scalar, value_in
from mixer.profile.edit.knobs import Knob, knob_value, knobs_of
from mixer.profile.edit.places import place_of
from mixer.profile.edit.save import save_text
from mixer.profile.journal import local_time, note
from mixer.profile.profile import Profile, fingerprint_of, parse_profile
from mixer.profile.read.overlay import Table

SIDES = ("A", "B")
HIDDEN = "?"
"""Shown for a side that nobody is to know."""


@dataclass(slots=True)
class _Side:
    """One of the two tunings."""

    history: History
    profile: Profile
    edits: tuple[Change, ...] = ()
    """What it differs in from the file, value by value and in all loadouts."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What has been worked out for one profile in one loadout."""

    of: tuple[str, str | None]
    knobs: tuple[Knob, ...]
    by_key: Mapping[str, Knob]


class Tuning:
    """The values of one profile that can be turned, in one loadout."""

    def __init__(
        self,
        profile: Profile,
        loadout: str | None,
        apply: Callable[[Profile, Sequence[Change]], None],
        recovery: RecoveryFile,
    ) -> None:
        self.loadout = loadout
        """The loadout that is tuned; may be changed at any time."""
        self.refused = ""
        """Why the last edit was not taken; empty when it was."""
        self.unnoted = ""
        """Why the last save is not in the profile's journal; empty when it is."""
        self.hidden = False
        """Whether nobody is to know which side is in use: it is not shown, edited or saved."""
        self.recovery = recovery
        self.file = ProfileFile(profile)
        self._taken = profile.taken
        self._apply = apply
        self._sides = {side: _Side(History(profile.text), profile) for side in SIDES}
        self._side = SIDES[0]
        self._running = profile
        self._cache: _Known | None = None
        self._editor = Editor(profile.text)

    @property
    def profile(self) -> Profile:
        """The side in use."""
        return self._now.profile

    @property
    def knobs(self) -> tuple[Knob, ...]:
        """Everything that can be turned, section by section."""
        return self._known().knobs

    def value(self, key: str, *, filed: bool = False) -> Scalar | None:
        """What holds now, or what the file says. Raises OptionError for a key that cannot be tuned."""
        profile = self.file.profile if filed else self.profile
        return knob_value(profile.robot(self.loadout), self._knob(key))

    def set(self, key: str, value: Scalar, *, drag: bool = False) -> str:
        """Change one value; empty when taken, else what is wrong in words, and the old value stays.

        Values of one drag (`drag` given for all but the first) are undone together.
        """
        try:
            knob, was = self._knob(key), self.value(key)
            fitting = _fitting(knob, value)
            if fitting == was:
                self.refused = ""
                return ""
            editor = self._edited()
            editor.set(place_of(editor.tables, knob.path, self.loadout), fitting)
            self._take(editor, key, drag=drag, told=Change(key, was, fitting))
            self.refused = ""
        except (StickwrightError, InternalError) as error:
            self.refused = words_of(error)
        return self.refused

    def reset(self, key: str) -> str:
        """Back to what the file says; where it says nothing, the value goes out of the text again."""
        try:
            knob, was = self._knob(key), self.value(key)
            editor = self._edited()
            place = place_of(editor.tables, knob.path, self.loadout)
            filed = Change(".".join(place), None, value_in(self.file.tables, place))
            back, _ = laid_over(editor.text, [filed])
            if back.text != editor.text:
                self._take(back, key, told=Change(key, was, self.value(key, filed=True)))
            self.refused = ""
        except (StickwrightError, InternalError) as error:
            self.refused = words_of(error)
        return self.refused

    def undo(self) -> str:
        """Take the last edit of this side back; the key it concerned, empty when there is none."""
        self._check_shown()
        return self._moved(self._now.history.undo())

    def redo(self) -> str:
        """Make the last undone edit again; its key, empty when there is none."""
        self._check_shown()
        return self._moved(self._now.history.redo())

    def swap(self, side: str = "") -> str:
        """Change over to the other side, or to the one named; its name. Raises OptionError while hidden."""
        if not side:
            self._check_shown()
        self._side = side or self._other
        self._hand_on()
        return self._side

    def copy_across(self) -> None:
        """Make the other side equal to this one (it can be undone there)."""
        self._check_shown()
        self._sides[self._other].history.change(self._now.history.text, "copied from the other side")
        self._hand_on()

    def edits(self, side: str = "") -> tuple[Change, ...]:
        """What a side (default: the one in use) differs in from the file, in all loadouts."""
        return self._sides[side or self._side].edits

    def save(self, path: Path | None = None) -> Path | None:
        """Write this side to the profile's file, or to a new one; the backup's path, None if there is none.

        The other side, where nobody has edited it, follows. Raises StickwrightError where it cannot be
        written, where another program has changed it, and for a new one that is there already.
        """
        self._check_shown()
        target = path or self.file.path
        if target is None:
            raise OptionError("this profile has no file", "save it under a name")
        own = self.file.path is not None and target.absolute() == self.file.path.absolute()
        if not own and target.exists():
            raise OptionError(f"{target} is there already", "give a name that is free")
        text = self._now.history.text
        changes = differences(self.file.tables, Editor(text).tables)
        backup = save_text(target, text, self.file.text if own else None)
        self._note(target, changes)
        if own:
            self._follow(replace(self.profile, path=self.file.path, where=self.file.where), "saved")
        return backup

    def _note(self, target: Path, changes: Sequence[Change]) -> None:
        """A saved profile is saved, whether or not its journal takes the line; `unnoted` says why not."""
        self.unnoted = ""
        if not changes:
            return
        try:
            prints = fingerprint_of(self.profile.plan(self.loadout))
            note(target, prints, f"saved from the bench: {'; '.join(map(str, changes))}")
        except StickwrightError as error:
            self.unnoted = words_of(error)

    def reload(self) -> tuple[Change, ...]:
        """Take the file as it is on the disk now, with the unsaved edits of both sides laid over it.

        It is one step to undo. Edits that found no place in it are given back; undoing finds them again.
        Raises ProfileError, and all stays, where the file is no profile any more; OptionError where it has
        no such loadout.
        """
        text = self.file.read()
        fresh = replace(self._read(text), path=self.file.path)
        fresh.plan(self.loadout)
        edited = [side for side in self._sides.values() if side.edits]
        left: list[Change] = []
        for side in edited:
            laid, lost = self._laid(text, side.edits)
            side.history.change(text if laid is None else laid, "read again")
            left += lost
        self._follow(fresh, "read again")
        return tuple(left)

    def lay_over(
        self, changes: Mapping[str, Sequence[Change]], side: str, label: str = "recovered"
    ) -> tuple[Change, ...]:
        """Edits made elsewhere, for each side, over the file; then use a side. Those that do not fit.

        It is one step to undo on each side, under a label.
        """
        left: list[Change] = []
        for name, each in self._sides.items():
            laid, lost = self._laid(self.file.text, changes[name])
            each.history.change(each.history.text if laid is None else laid, label)
            left += lost
        self._side = side if side in SIDES else self._side
        self._hand_on()
        return tuple(left)

    def throw_away(self) -> None:
        """Give up what is unsaved on both sides, for good."""
        for side in self._sides.values():
            side.history.change(self.file.text, "thrown away")
        self._hand_on()

    def view(self) -> TuningView:
        """What a snapshot tells of the tuning."""
        now, other = self._now, self._sides[self._other]
        if self.hidden:
            saved = not now.edits and not other.edits
            return TuningView(HIDDEN, 0, 0, 0, 0, self.refused, saved=saved, file=self.file.stands)
        return TuningView(
            self._side,
            len(now.edits),
            len(other.edits),
            now.history.undo_depth,
            now.history.redo_depth,
            self.refused,
            saved=not now.edits and not other.edits,
            file=self.file.stands,
        )

    def _read(self, text: str, tables: Table | None = None) -> Profile:
        """A text as this profile's, with the same channels taken as dead.

        Raises ProfileError where it is wrong, or where a loadout is that was right in the file.
        """
        profile = parse_profile(text, self.file.where, tables).without(self._taken)
        if profile.problems and not self.file.profile.problems:
            raise ProfileError(profile.problems)
        return profile

    def _check_shown(self) -> None:
        """Raises OptionError while the side is hidden."""
        if self.hidden:
            raise OptionError("which tuning is in use is hidden now", "end the blind comparison first")

    @property
    def _now(self) -> _Side:
        return self._sides[self._side]

    @property
    def _other(self) -> str:
        return SIDES[1 - SIDES.index(self._side)]

    def _knob(self, key: str) -> Knob:
        """One of them. Raises OptionError for an unknown key."""
        found = self._known().by_key.get(key)
        if found is not None:
            return found
        raise OptionError(f"{key} cannot be tuned", "choose one of the listed values")

    def _known(self) -> _Known:
        """The knobs of the present profile, worked out once for each."""
        of = self.profile.text, self.loadout
        if self._cache is None or self._cache.of != of:
            knobs = knobs_of(self.profile.robot(self.loadout))
            self._cache = _Known(of, knobs, {knob.key: knob for knob in knobs})
        return self._cache

    def _edited(self) -> Editor:
        """The text of the side in use with what it says; it is read once, however often it is edited."""
        if self._editor.text != self._now.history.text:
            self._editor = Editor(self._now.history.text)
        return self._editor

    def _take(self, editor: Editor, label: str, *, told: Change, drag: bool = False) -> None:
        """A text that an edit has made, if it is a profile in every loadout. Raises StickwrightError."""
        self._check_shown()
        profile = self._read(editor.text, editor.tables)
        profile.plan(self.loadout)
        side = self._now
        side.history.change(editor.text, label, joins=drag)
        side.profile, side.edits = profile, differences(self.file.tables, editor.tables)
        self._keep()
        self._run(profile, (told,))

    def _moved(self, label: str) -> str:
        """A step of the history was taken: back or on."""
        if label:
            self._hand_on()
        return label

    def _follow(self, fresh: Profile, label: str) -> None:
        """The file says something new; sides that nobody had edited say the same."""
        for side in self._sides.values():
            if not side.edits:
                side.history.change(fresh.text, label)
        self.file.take(fresh)
        self._hand_on()

    def _laid(self, text: str, changes: Sequence[Change]) -> tuple[str | None, Sequence[Change]]:
        """A text with changes laid over it, and those that found no place; None where it is no profile."""
        editor, left = laid_over(text, changes)
        try:
            self._read(editor.text, editor.tables).plan(self.loadout)
        except StickwrightError:
            return None, changes
        return editor.text, left

    def _hand_on(self) -> None:
        """Make the rest agree with the texts of both sides and the file, whatever has changed them."""
        self.refused = ""
        for side in self._sides.values():
            editor = Editor(side.history.text)
            if side.profile.text != editor.text:
                side.profile = self._read(editor.text, editor.tables)
            side.edits = differences(self.file.tables, editor.tables)
        self._keep()
        if self.profile.text != self._running.text:
            before = Editor(self._running.text).tables
            told = () if self.hidden else differences(before, self._edited().tables)
            self._run(self.profile, told)

    def _run(self, profile: Profile, changes: Sequence[Change]) -> None:
        self._running = profile
        self._apply(profile, changes)

    def _keep(self) -> None:
        if not any(side.edits for side in self._sides.values()):
            self.recovery.drop()
            return
        a, b = (self._sides[side].history.text for side in SIDES)
        window = self.recovery.open_window.window.name
        self.recovery.write(Kept(self.file.where, self.file.text, self._side, a, b, local_time(), window))


def words_of(error: Exception) -> str:
    """A refusal as one line: what is wrong and what would be right."""
    if isinstance(error, ProfileError):
        return "; ".join(f"{problem.said}: {problem.remedy}" for problem in error.problems)
    if isinstance(error, StickwrightError):
        return f"{error.said}: {error.remedy}" if error.remedy else error.said
    return str(error)


def _fitting(knob: Knob, value: Scalar) -> Scalar:
    """The value in the form the file holds it; what it may be is for the profile to say."""
    if knob.kind == "number" and isinstance(value, int | float) and not isinstance(value, bool):
        return round(float(value), 6)
    if knob.kind == "whole" and isinstance(value, float) and value.is_integer():
        return int(value)
    return value
