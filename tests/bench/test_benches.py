"""Every benchmark can be run as its first lines say, from any folder."""

import subprocess
import sys
from pathlib import Path

import pytest

BENCHES = sorted(Path(__file__).parent.glob("*bench*.py"), key=lambda path: path.name)
AS_FILE = "import runpy, sys; sys.path[0] = sys.argv[2]; runpy.run_path(sys.argv[1], run_name='read')"


@pytest.mark.parametrize(
    "path", [p for p in BENCHES if not p.name.startswith("test_")], ids=lambda p: p.stem
)
def test_a_benchmark_starts_as_a_file(path: Path, tmp_path: Path) -> None:
    """Its docstring names the command, and read as a file, from another folder, it finds all it imports."""
    text = path.read_text(encoding="utf-8")
    assert f"python tests/bench/{path.name}" in text
    command = [sys.executable, "-c", AS_FILE, str(path), str(path.parent)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
