"""The firmware's C under a static checker, cppcheck: nothing is found, with and without outputs."""

import subprocess
from pathlib import Path

import pytest

from tests.board.firmware.whole import ALL_KINDS, STUB, wiring
from tests.board.images import FIRMWARE

pytestmark = pytest.mark.needs_tool("cppcheck")

PORTABLE = ("main.c", "reader.c", "frame.c")
BOARDS = {
    "atmega328p": ("hal_atmega328p.c",),
    "rp2040": ("hal_rp2040.c", "program_rp2040.c", "start_rp2040.c"),
}
ARGUED = tuple(f"--suppress=comparePointers:{name}_rp2040.c" for name in ("start", "program"))
"""What is passed over: the linker's names of the ends of one region are no arrays of their own."""


@pytest.mark.parametrize("board", BOARDS)
def test_a_checker_finds_nothing(board: str, tmp_path: Path) -> None:
    """A robot's whole firmware, as it is built with a wiring.h and a mix."""
    (tmp_path / "wiring.h").write_text(wiring(ALL_KINDS), encoding="ascii")
    enabled = ("--enable=warning,style,performance,portability", "--std=c99", "-q", "--error-exitcode=1")
    defined = ("-DWITH_MIX=1", "-DWITH_WIRING=1", "-DF_CPU=16000000UL")
    done = subprocess.run(
        ["cppcheck", *enabled, *ARGUED, *defined, "-I.", f"-I{tmp_path}", f"-I{STUB}",
         *PORTABLE, "mix_on_board.c", *BOARDS[board]],
        cwd=FIRMWARE, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip

    assert (done.returncode, done.stderr) == (0, "")
