"""Small programs for the simulated RP2040: C text with the firmware's own boot stage and vectors."""

import subprocess
import tempfile
from functools import cache
from pathlib import Path

from mixer.board.image.elf import Image, image_of
from tests.board.images import FIRMWARE

HEAD = """
#include "rp2040.h"
#define OUT_SET REGISTER(0xD0000014)
#define OUT_CLR REGISTER(0xD0000018)
#define OUT_XOR REGISTER(0xD000001C)
void io_bank0_interrupt(void);
void timer_interrupt(void);
void uart0_interrupt(void);
static inline void release(uint32_t blocks)
{
    CLEAR_BITS(RESETS_RESET) = blocks;
}
/* Pin 0 is an output of the program. */
static inline void open_pin_0(void)
{
    release(RESETS_IO_BANK0 | RESETS_PADS_BANK0);
    SIO_GPIO_OE_SET = 1;
    IO_CTRL(0) = IO_FUNCTION_SIO;
}
static inline void open_serial(uint32_t whole)
{
    CLK_PERI_CTRL = CLK_ENABLE;
    release(RESETS_UART0 | RESETS_IO_BANK0);
    UART0_IBRD = whole;
    UART0_FBRD = 0;
    UART0_LCR_H = UART_LCR_H_8_BITS_FIFO;
    UART0_CR = 0x301;
    IO_CTRL(28) = IO_FUNCTION_UART;
}
"""
DEFAULTS = """
void io_bank0_interrupt(void);
void timer_interrupt(void);
void uart0_interrupt(void);
__attribute__((weak)) void io_bank0_interrupt(void) { }
__attribute__((weak)) void timer_interrupt(void) { }
__attribute__((weak)) void uart0_interrupt(void) { }
"""
FLAGS = (
    "-mcpu=cortex-m0plus", "-mthumb", "-std=gnu99", "-O2", "-Wall", "-Wextra", "-Werror",
    "--specs=nano.specs", "-nostartfiles", "-T", "rp2040.ld",
)  # fmt: skip


def built(body: str) -> Image:
    """The program, linked: what every program includes, and this. It runs from the ring oscillator."""
    return image_of(built_elf(body), "program.elf")


@cache
def built_elf(body: str) -> bytes:
    """Its ELF file."""
    with tempfile.TemporaryDirectory() as folder:
        sources = [Path(folder) / "program.c", Path(folder) / "defaults.c"]
        for source, text in zip(sources, (HEAD + body, DEFAULTS), strict=True):
            source.write_text(text, encoding="ascii")
        elf = Path(folder) / "program.elf"
        command = [
            "arm-none-eabi-gcc",
            *FLAGS,
            "-I.",
            "boot_rp2040.S",
            "start_rp2040.c",
            "program_rp2040.c",
            *map(str, sources),
        ]
        subprocess.run([*command, "-o", str(elf)], check=True, timeout=60, cwd=FIRMWARE)
        return elf.read_bytes()
