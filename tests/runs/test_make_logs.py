"""The committed example logs."""

import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

LOGS = Path(__file__).parents[2] / "profiles" / "logs"


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """The script, loaded as a module."""
    spec = spec_from_file_location("make_logs", LOGS / "make_logs.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    sys.modules["make_logs"] = module
    spec.loader.exec_module(module)
    return module


def test_committed_logs_are_fresh(maker: ModuleType) -> None:
    """The files on disk are byte for byte what the script writes."""
    assert maker.main(["--check"]) == 0


def test_check_notices_a_change(
    maker: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing or changed file fails the check and is named."""
    assert maker.main([], folder=tmp_path) == 0
    changed = tmp_path / "carrier_two_loads.csv"
    changed.write_bytes(changed.read_bytes().replace(b"1502", b"1503", 1))

    assert maker.main(["--check"], folder=tmp_path) == 1
    assert capsys.readouterr().err == f"{changed} is not what make_logs.py writes\n"
