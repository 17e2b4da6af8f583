"""Where runs are kept: a folder for each robot, its logs numbered by task, the tunings beside them."""

import re
from pathlib import Path

from mixer.course.keep.card import profile_name
from mixer.files import cannot_be_written, write_file

DRIVER = "driver.txt"
LONGEST_NAME = 40


class Shelf:
    """A folder of runs."""

    def __init__(self, root: Path, robot: str) -> None:
        """`root` holds the folders of all robots, and the driver's name."""
        self._root = root
        self.folder = root / (re.sub(r"[^a-z0-9]+", "_", robot.lower()).strip("_") or "robot")

    @property
    def driver(self) -> str:
        """Who drives, as it was said once; empty before that."""
        try:
            text = (self._root / DRIVER).read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ""
        return " ".join(text.split())[:LONGEST_NAME]

    def name_driver(self, name: str) -> None:
        """Keep a name for this and later days. Raises WriteError."""
        _make(self._root)
        write_file(self._root / DRIVER, " ".join(name.split())[:LONGEST_NAME] + "\n")

    def next_log(self, task: str) -> Path:
        """A name that is free: one more than the highest number there is. Raises WriteError."""
        _make(self.folder)
        found = [re.fullmatch(rf"{task}-(\d+)\.csv", path.name) for path in self.folder.iterdir()]
        number = 1 + max((int(match[1]) for match in found if match), default=0)
        return self.folder / f"{task}-{number:04d}.csv"

    def keep_tuning(self, text: str) -> str:
        """A profile's text beside the logs; its name there. Raises WriteError."""
        path = self.folder / profile_name(text)
        if not path.exists():
            write_file(path, text)
        return path.name


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise cannot_be_written(folder, error) from None
