"""What differs between operating systems, in one place; everything else runs on all of them alike.

Each function does nothing, or the plain thing, where the system lacks what it would use.
"""

import ctypes
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import Any


def stop_signals() -> tuple[signal.Signals, ...]:
    """The signals by which a person or the system asks a program to end, as far as this system has them."""
    return tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))


@contextmanager
def signals_wait() -> Iterator[None]:
    """Requests to end come after the block; what is started in it hears none of them, where that can be.

    For starting processes: one that is stopped half-way through leaves a child that complains.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = {each: signal.signal(each, lambda number, _: came.append(number)) for each in stop_signals()}
    mask = getattr(signal, "pthread_sigmask", None)
    if mask is not None:
        mask(signal.SIG_BLOCK, stop_signals())
    try:
        yield
    finally:
        if mask is not None:
            mask(signal.SIG_UNBLOCK, stop_signals())
        for each, handler in before.items():
            signal.signal(each, handler)
    if came:
        signal.raise_signal(came[0])


def sync_folder(folder: Path) -> None:
    """Wait until the disk knows of a move inside a folder; POSIX only, elsewhere the move itself does."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def swap(one: Path, other: Path) -> bool:
    """Let two paths change places in one step; False, and nothing done, where the system or disk cannot."""
    libc = ctypes.CDLL(None, use_errno=True) if os.name == "posix" else None
    for name, here, flag in (("renameat2", (-100,), 2), ("renamex_np", (), 2)):  # Linux; macOS
        call = getattr(libc, name, None)
        if call is not None:
            return not call(*here, os.fsencode(one), *here, os.fsencode(other), ctypes.c_uint(flag))
    return False


def keep_owner(path: Path, before: os.stat_result) -> None:
    """Give a new file the owner of the one it replaces, where the system has owners and allows it."""
    change = getattr(os, "chown", None)
    if change is not None:
        with suppress(OSError):
            change(path, before.st_uid, before.st_gid)


@contextmanager
def keys_one_by_one(descriptor: int) -> Iterator[None]:
    """A terminal that hands over each key as it comes, without echo; the line discipline elsewhere."""
    try:
        import termios  # noqa: PLC0415  POSIX only
        import tty  # noqa: PLC0415
    except ImportError:
        yield
        return
    before = termios.tcgetattr(descriptor)
    try:
        tty.setcbreak(descriptor)
        yield
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


def lock_file(file: int) -> bool:
    """Lock an open file until it is closed or its process ends; False where another process has it."""
    try:
        import fcntl  # noqa: PLC0415  POSIX only
    except ImportError:
        return _lock_byte(file)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_byte(file: int) -> bool:
    """As `lock_file` where a lock keeps others from reading: a byte far behind what there is to read."""
    try:
        locking: Any = import_module("msvcrt")
    except ImportError:
        return True
    os.lseek(file, 1 << 20, os.SEEK_SET)
    try:
        locking.locking(file, locking.LK_NBLCK, 1)
    except OSError:
        return False
    finally:
        os.lseek(file, 0, os.SEEK_SET)
    return True


def data_folder() -> Path:
    """Where this person's files of this program are kept: as the system (or XDG) says."""
    from platformdirs import user_data_path  # noqa: PLC0415 - few commands keep anything

    return user_data_path("stickwright", appauthor=False)
