"""A project built for its board: make and the board's compiler in a folder of its own, the image kept.

Images are named by everything they are made of: files, compiler, its stand. Two programs may build the same
at once; each moves a whole file into place.
"""

import hashlib
import re
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from mixer.board.image.elf import Image, read_image
from mixer.board.kinds.kind import Board
from mixer.errors import ImageError, MissingToolError
from mixer.lower.run.native_build import cache_folder, forget_old
from mixer.lower.run.toolchain import Tool, find

MAKE = Tool("make", ("make", "gmake"), "STICKWRIGHT_MAKE", "install make (apt-get install make)")
ELF = Path("build") / "firmware.elf"
MOST_KEPT = 64
"""Images, some 100 kB each with their debugging text."""
LONGEST_S = 300.0
_OVER = re.compile(r"region `\w+' overflowed by (\d+) bytes")
"""What the linker says where a program is larger than its memory."""


def image_of_project(files: Mapping[str, str], board: Board) -> Image:
    """The image that a project makes.

    Raises MissingToolError without make or the board's compiler, ImageError where the program is too large.
    """
    make, compiler = find(MAKE), find(board.compiler)
    folder = cache_folder() / "images"
    kept = folder / f"{_key(files, compiler)}.elf"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not kept.exists():
            forget_old(folder, "*.elf", MOST_KEPT)
            _build(files, [*make, "-s", f"CC={' '.join(compiler)}", str(ELF)], kept)
    except OSError as error:
        raise MissingToolError(
            f"the image cannot be kept in {folder}: {error.strerror or error}",
            "set STICKWRIGHT_CACHE to a folder of yours",
        ) from error
    return read_image(kept)


def _build(files: Mapping[str, str], command: list[str], kept: Path) -> None:
    with tempfile.TemporaryDirectory(dir=kept.parent) as place:
        for name, text in files.items():
            path = Path(place) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        done = subprocess.run(
            command, cwd=place, capture_output=True, text=True, check=False, timeout=LONGEST_S
        )
        over = [int(number) for number in _OVER.findall(done.stderr)]
        if over:
            raise ImageError(
                f"the program is {max(over):,} bytes too large for the board",
                "leave tables out (`export --no-tables`), or take a larger board (`check --board all`)",
            )
        if done.returncode != 0:
            said = next((line for line in done.stderr.splitlines() if "error" in line), done.stderr[-200:])
            raise MissingToolError(
                f"{command[0]} cannot build the board's image: {said.strip()}",
                "see that the compiler and its library are whole; `export --board` writes the same files",
            )
        (Path(place) / ELF).replace(kept)


def _key(files: Mapping[str, str], compiler: list[str]) -> str:
    stand = Path(compiler[0]).resolve().stat()
    parts = [*compiler, str(stand.st_size), str(stand.st_mtime_ns)]
    parts += [part for name in sorted(files) for part in (name, files[name])]
    return hashlib.sha256("\0".join(parts).encode("utf-8")).hexdigest()[:32]
