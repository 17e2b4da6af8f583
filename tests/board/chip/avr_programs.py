"""Small programs for the simulated ATmega328P, built from C text."""

import subprocess
import tempfile
from functools import cache
from pathlib import Path

from mixer.board.image.elf import Image, image_of

HEAD = """
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdint.h>
"""


@cache
def built(body: str) -> Image:
    """The program, linked: what every program includes, and this."""
    with tempfile.TemporaryDirectory() as folder:
        source, elf = Path(folder) / "program.c", Path(folder) / "program.elf"
        source.write_text(HEAD + body, encoding="ascii")
        flags = ("-mmcu=atmega328p", "-DF_CPU=16000000UL", "-O2", "-Wall", "-Wextra", "-Werror")
        subprocess.run(["avr-gcc", *flags, str(source), "-o", str(elf)], check=True, timeout=60)
        return image_of(elf.read_bytes(), "program.elf")
