"""Unsaved edits of windows that have ended, offered to this one."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from mixer.live.tuning.recovery import Kept, read_kept
from mixer.live.tuning.tuning import SIDES, Tuning
from mixer.profile.edit.differences import Change, differences
from mixer.profile.edit.document import Editor


@dataclass(frozen=True, slots=True)
class Offer:
    """What one window left."""

    path: Path
    """The file that holds it."""
    made: str
    """When the last edit was made, and in which window; as people write it."""
    window: str
    changes: Mapping[str, tuple[Change, ...]]
    """For each side, what it differs in from the file as that was then."""
    file_changed: bool
    """The profile's file has been written since."""


class Offers:
    """One at a time, the newest first, until somebody has decided about each."""

    def __init__(self, tuning: Tuning) -> None:
        self._tuning = tuning
        self._later: set[Path] = set()

    def next(self) -> Offer | None:
        """The next one. What holds no difference is cleared away instead of being offered."""
        for path in self._tuning.recovery.left():
            kept = None if path in self._later else read_kept(path)
            if kept is None:
                continue
            try:
                changes = _changes(kept)
            except ValueError:
                continue
            if any(changes.values()):
                changed = kept.file_text != self._tuning.file.text
                return Offer(path, kept.made, kept.window, changes, changed)
            path.unlink(missing_ok=True)
        return None

    def take(self, offer: Offer) -> str:
        """Lay its edits over this window's, one step to undo on each side.

        What is wrong in words, empty when all went well; what did not fit stays where it was.
        """
        kept = read_kept(offer.path)
        if kept is None:
            return "another window has taken them meanwhile"
        left = self._tuning.lay_over(offer.changes, kept.side)
        if left:
            self._later.add(offer.path)
            return f"no longer fits, left in {offer.path.name}: " + "; ".join(map(str, left))
        offer.path.unlink(missing_ok=True)
        return ""

    def throw_away(self, offer: Offer) -> None:
        """For good."""
        offer.path.unlink(missing_ok=True)

    def put_off(self, offer: Offer) -> None:
        """Decide later: another window is asked again."""
        self._later.add(offer.path)


def _changes(kept: Kept) -> Mapping[str, tuple[Change, ...]]:
    was = Editor(kept.file_text).tables
    texts = zip(SIDES, (kept.a, kept.b), strict=True)
    return {side: differences(was, Editor(text).tables) for side, text in texts}
