"""The robot that is opened when no profile is named."""

import tempfile
from pathlib import Path

from mixer.profile.starter import starter_profile

BESIDE = Path(__file__).parent.parent / "profiles" / "sample_carrier.toml"


def example_profile() -> Path:
    """The sample carrier of a source checkout; else the starter, in a folder for passing things."""
    if BESIDE.is_file():
        return BESIDE
    folder = Path(tempfile.mkdtemp(prefix="stickwright-"))
    path = folder / "first_robot.toml"
    path.write_text(starter_profile("first robot"), encoding="utf-8")
    return path
