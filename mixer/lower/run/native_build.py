"""Shared libraries from C, built once: kept in the user's cache, named by source, flags and compiler."""

import ctypes
import hashlib
import os
import platform
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

from mixer.errors import MissingToolError
from mixer.lower.run.toolchain import C_COMPILER, find

FLAGS = ("-std=c99", "-O2", "-shared", "-fPIC", "-Wall", "-Wextra")
THIS_MACHINE = ("-std=gnu99", "-O2", "-shared", "-fPIC", "-march=native")
"""For vectors: everything this processor can do."""


def load(source: str, flags: Sequence[str] = FLAGS) -> ctypes.CDLL:
    """The source as a loaded library; built only where the cache does not have it.

    Raises MissingToolError where there is no C compiler, or one that cannot build this.
    """
    compiler = find(C_COMPILER)
    library = cache_folder() / f"{_key(source, compiler, flags)}.so"
    try:
        library.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not library.exists():
            _build(source, [*compiler, *flags], library)
        return ctypes.CDLL(str(library))
    except OSError as error:
        raise MissingToolError(
            f"the native engine cannot be kept in {library.parent}: {error.strerror or error}",
            "set STICKWRIGHT_CACHE to a folder of yours, or use another engine",
        ) from error


def cache_folder() -> Path:
    """Where libraries are kept: STICKWRIGHT_CACHE, else the user's cache directory."""
    own = os.environ.get("STICKWRIGHT_CACHE")
    shared = os.environ.get("XDG_CACHE_HOME")
    return Path(own) if own else Path(shared or Path.home() / ".cache") / "stickwright"


def _build(source: str, command: Sequence[str], library: Path) -> None:
    """Compile beside the library and move it there in one step, so that nobody ever loads half of one."""
    with tempfile.TemporaryDirectory(dir=library.parent) as folder:
        text, built = Path(folder) / "mix.c", Path(folder) / "mix.so"
        text.write_text(source, encoding="utf-8")
        done = subprocess.run(
            [*command, str(text), "-o", str(built)], capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            said = next((line for line in done.stderr.splitlines() if "error" in line), "it gave no reason")
            raise MissingToolError(
                f"{command[0]} cannot build the native engine: {said}",
                f"set {C_COMPILER.override} to another C compiler, or use another engine",
            )
        built.replace(library)


def _key(source: str, compiler: Sequence[str], flags: Sequence[str]) -> str:
    program = Path(compiler[0]).resolve()
    stand = program.stat()
    built = (str(program), str(stand.st_size), str(stand.st_mtime_ns))
    parts = (source, *compiler, *flags, *built, _processor())
    return hashlib.sha256("\0".join(parts).encode("utf-8")).hexdigest()[:32]


def _processor() -> str:
    """What the processor can do, as far as the system tells: libraries for another one may not run here."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.machine() + platform.processor()
    return platform.machine() + next((line for line in lines if line.startswith(("flags", "Features"))), "")
