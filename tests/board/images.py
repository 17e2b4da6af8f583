"""Firmware built as a user builds it: by its own Makefile, in a folder of its own."""

import functools
import shutil
import subprocess
import tempfile
from pathlib import Path

import mixer.board

FIRMWARE = Path(mixer.board.__file__).with_name("firmware")


@functools.cache
def built(board: str, file: str, wiring: str = "", mix: str = "", **choices: int) -> bytes:
    """A file that `make` builds, of a robot with this ``wiring.h`` and the export in the folder `mix`.

    Without both it is the bare pulse reader.
    """
    with tempfile.TemporaryDirectory() as parent:
        folder = Path(parent, "firmware")
        shutil.copytree(FIRMWARE, folder, ignore=shutil.ignore_patterns("build", "__pycache__"))
        if wiring:
            (folder / "wiring.h").write_text(wiring, encoding="ascii")
        for name in ("mix.c", "mix.h") if mix else ():
            shutil.copy(Path(mix, name), folder)
        given = [f"{name}={value}" for name, value in choices.items()]
        done = subprocess.run(
            ["make", "-s", "-C", str(folder), f"BOARD={board}", *given],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return (folder / "build" / file).read_bytes()
