"""One call of the command line in this process, with what it printed."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import pytest

from mixer.cli.main import main

PROFILES = Path("profiles").resolve()
CARRIER = PROFILES / "sample_carrier.toml"
TANK = PROFILES / "tank_pair.toml"
ROUGH = PROFILES / "logs" / "carrier_rough_ground.csv"
SWEEPS = PROFILES / "logs" / "carrier_sweeps.csv"


class Ran(NamedTuple):
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:  # noqa: ANN401  whatever the command documents
        """The one JSON document on stdout."""
        return json.loads(self.out)


Run: TypeAlias = Callable[..., Ran]


@pytest.fixture
def rough(tmp_path: Path) -> Path:
    """The first eight seconds of the drive on rough ground: armed, driven, single pulses missing."""
    path = tmp_path / "rough.csv"
    path.write_text("".join(ROUGH.read_text().splitlines(keepends=True)[:400]))
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command line given as words."""

    def call(*words: object) -> Ran:
        code = main([str(word) for word in words])
        return Ran(code, *capsys.readouterr())

    return call
