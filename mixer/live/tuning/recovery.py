"""The file that keeps unsaved edits through a crash.

Written whole after every edit, beside the profile or in a folder of the user's choosing; gone once nothing
is unsaved. A file of an earlier run that nobody has decided about is moved aside, never overwritten.
"""

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from mixer.errors import WriteError
from mixer.files import write_file

_FORM = 1


@dataclass(frozen=True, slots=True)
class Kept:
    """Both sides of a tuning, as whole profile texts."""

    profile: str
    file_text: str
    """What the profile's file said when the edits began."""
    side: str
    a: str
    b: str


def recovery_path(profile: Path, folder: Path | None) -> Path:
    """Where the edits of one profile are kept."""
    if folder is None:
        return profile.with_name(f".{profile.name}.unsaved")
    mark = hashlib.sha256(os.fsencode(profile.resolve())).hexdigest()[:10]
    return folder / f"{profile.stem}-{mark}.unsaved"


class RecoveryFile:
    """One file of unsaved edits."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.problem = ""
        """Why edits could not be kept the last time, in words; empty when they were."""
        self._foreign = path.exists()

    def read(self) -> Kept | None:
        """What an earlier run left, None when there is nothing that can be read."""
        try:
            table = json.loads(self.path.read_text(encoding="utf-8"))
            if table.pop("form") != _FORM:
                return None
            return Kept(**{key: str(value) for key, value in table.items()})
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return None

    def write(self, kept: Kept, *, sync: bool = True) -> None:
        """Keep these edits. Does not raise: `problem` says what is the matter."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._set_aside()
            text = json.dumps({"form": _FORM, **asdict(kept)}, ensure_ascii=False, indent=0)
            write_file(self.path, text, sync=sync)
            self.problem = ""
        except OSError as error:
            why = error.said if isinstance(error, WriteError) else f"{self.path}: {error.strerror}"
            self.problem = f"edits are not kept through a crash: {why}"

    def settle(self) -> None:
        """The edits of the earlier run have been taken over or given up: the file is ours now."""
        self._foreign = False

    def drop(self) -> None:
        """Nothing is unsaved any more. An earlier run's file that nobody decided about stays."""
        if self._foreign:
            return
        try:
            self.path.unlink(missing_ok=True)
        except OSError as error:
            self.problem = f"{self.path} could not be removed: {error.strerror}"

    def _set_aside(self) -> None:
        if not self._foreign:
            return
        number = 1
        while (aside := self.path.with_name(f"{self.path.name}.{number}")).exists():
            number += 1
        self.path.replace(aside)
        self._foreign = False
