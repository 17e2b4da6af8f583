"""The profile's file beside a bench that runs: what it said when it was read, and whether it still does."""

from pathlib import Path

from mixer.errors import StickwrightError
from mixer.profile.edit.document import Editor
from mixer.profile.profile import Profile
from mixer.profile.read.reading import read_text

SAME, CHANGED, GONE = "", "changed", "gone"


class ProfileFile:
    """One profile's file, as it was read or saved last."""

    def __init__(self, profile: Profile) -> None:
        self.path: Path | None = profile.path
        self.stands = SAME
        """``changed`` or ``gone`` when another program had to do with it since; empty when none had."""
        self.take(profile)

    def take(self, profile: Profile) -> None:
        """This is what the file says now."""
        self.profile, self.text, self.where = profile, profile.text, profile.where
        self.tables = Editor(profile.text).tables
        self.stands, self._seen = SAME, self._mark()

    def look(self) -> str:
        """How the file stands now; reads it only when its size, time or place on the disk differ."""
        mark = self._mark()
        if self.path is None or mark == self._seen:
            return self.stands
        self._seen = mark
        try:
            self.stands = SAME if self.read() == self.text else CHANGED
        except StickwrightError:
            self.stands = GONE if mark is None else CHANGED
        return self.stands

    def read(self) -> str:
        """What the file says on the disk. Raises ProfileError."""
        return read_text(self.path or Path(self.where))

    def _mark(self) -> tuple[int, int, int] | None:
        try:
            seen = (self.path or Path(self.where)).stat()
        except OSError:
            return None
        return seen.st_mtime_ns, seen.st_size, seen.st_ino
