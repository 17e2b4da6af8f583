"""Shared libraries from C, built once: kept in the user's cache, named by source, flags and compiler.

What is loaded runs in this program, so a library that somebody else may have written is never loaded: the
folder has to be this user's own and closed to others. Two programs may build the same at once; each
moves a whole library into place, and either will do.
"""

import ctypes
import hashlib
import os
import platform
import subprocess
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from mixer.errors import MissingToolError
from mixer.lower.run.toolchain import C_COMPILER, find

MOST_KEPT = 64
"""Libraries in the cache, some 50 kB each."""
FLAGS = ("-std=c99", "-O2", "-shared", "-fPIC", "-Wall", "-Wextra")
THIS_MACHINE = ("-std=gnu99", "-O2", "-shared", "-fPIC", "-march=native")
"""For vectors: everything this processor can do."""


def load(source: str, flags: Sequence[str] = FLAGS, what: str = "the native engine") -> ctypes.CDLL:
    """The source as a loaded library; built only where the cache does not have it. Errors call it `what`.

    Raises MissingToolError where there is no C compiler, or one that cannot build this.
    """
    compiler = find(C_COMPILER)
    library = cache_folder() / f"{_key(source, compiler, flags)}.so"
    try:
        library.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        require_own(library.parent)
        if not library.exists():
            forget_old(library.parent, "*.so", MOST_KEPT)
            _build(source, [*compiler, *flags], library, what)
        return _loaded(source, [*compiler, *flags], library, what)
    except OSError as error:
        raise MissingToolError(
            f"{what} cannot be kept in {library.parent}: {error.strerror or error}",
            "set STICKWRIGHT_CACHE to a folder of yours, or use another engine",
        ) from error


def _loaded(source: str, command: Sequence[str], library: Path, what: str) -> ctypes.CDLL:
    """A kept library; one that a crash or a full disk left torn is built once more."""
    try:
        return ctypes.CDLL(str(library))
    except OSError:
        _build(source, command, library, what)
        return ctypes.CDLL(str(library))


def require_own(folder: Path) -> None:
    """Raise MissingToolError for a folder in which somebody else could leave a library."""
    user = getattr(os, "getuid", None)
    if user is None:
        return
    stand = folder.stat()
    if stand.st_uid != user() or stand.st_mode & 0o022:
        raise MissingToolError(
            f"{folder} can be written by others, and what lies there would run in this program",
            f"chmod go-w {folder}, or set STICKWRIGHT_CACHE to a folder of yours",
        )


def forget_old(folder: Path, names: str, most: int) -> None:
    """Make room for one more of `most` files with such names; another program may do the same meanwhile."""
    with suppress(OSError):
        kept = sorted(folder.glob(names), key=lambda path: path.stat().st_mtime)
        for path in kept[: max(len(kept) - most + 1, 0)]:
            path.unlink(missing_ok=True)


def cache_folder() -> Path:
    """Where libraries are kept: STICKWRIGHT_CACHE, else the user's cache directory."""
    own = os.environ.get("STICKWRIGHT_CACHE")
    shared = os.environ.get("XDG_CACHE_HOME")
    return Path(own) if own else Path(shared or Path.home() / ".cache") / "stickwright"


def _build(source: str, command: Sequence[str], library: Path, what: str) -> None:
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
                f"{command[0]} cannot build {what}: {said}",
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
