"""The user's own copy of the example robot, so that what is tried on it is kept like on any other."""

import tempfile
from pathlib import Path

from mixer.errors import WriteError
from mixer.files import write_file
from mixer.system import data_folder

EXAMPLE = Path(__file__).parent / "shore_picker.toml"


def example_profile() -> Path:
    """The copy in the user's data folder, made where there is none yet; else one in a passing folder."""
    for folder in (data_folder(), Path(tempfile.gettempdir()) / "stickwright-example"):
        path = folder / EXAMPLE.name
        try:
            if not path.exists():
                folder.mkdir(parents=True, exist_ok=True)
                write_file(path, EXAMPLE.read_bytes())
        except (OSError, WriteError):
            continue
        return path
    return EXAMPLE
