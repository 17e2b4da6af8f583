"""Builds of the pulse reader: the whole of it for the board, its portable half for this machine."""

import ctypes
import functools
import subprocess
import tempfile
from pathlib import Path

import mixer.board

BOARD = Path(mixer.board.__file__).with_name("firmware")


@functools.cache
def build_board(**choices: int | str) -> bytes:
    """The ELF file of the reader, built with these choices of config.h by its own Makefile."""
    with tempfile.TemporaryDirectory() as folder:
        given = [f"{name}={value}" for name, value in choices.items()]
        subprocess.run(
            ["make", "-s", "-C", str(BOARD), f"BUILD={folder}", f"{folder}/firmware.elf", *given],
            check=True,
            capture_output=True,
            text=True,
        )
        return Path(folder, "firmware.elf").read_bytes()


@functools.cache
def build_host(channels: int = 8, *, pulse_sum: bool = False) -> ctypes.CDLL:
    """reader.c and frame.c as a library for this machine, with the sanitizers' cheap relatives on."""
    target = Path(tempfile.mkdtemp(prefix="stickwright-test-")) / "reader.so"
    choices = [f"-DCHANNELS={channels}", f"-DPULSE_SUM={int(pulse_sum)}"]
    warnings = ["-Wall", "-Wextra", "-Werror", "-Wconversion", "-pedantic"]
    sources = [str(BOARD / "reader.c"), str(BOARD / "frame.c")]
    subprocess.run(
        [
            "gcc",
            "-std=c99",
            "-O1",
            "-ftrapv",
            "-shared",
            "-fPIC",
            *warnings,
            *choices,
            *sources,
            "-o",
            str(target),
        ],
        check=True,
    )
    return ctypes.CDLL(str(target))
