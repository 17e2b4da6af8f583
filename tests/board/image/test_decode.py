"""The decoders against GNU objdump: every opcode there is, and whole programs."""

import struct
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from mixer.board.image.avr.decode import decode as decode_avr
from mixer.board.image.elf import read_image
from mixer.board.image.paths.instruction import Code, Instruction, Refused
from mixer.board.image.thumb.decode import decode as decode_thumb
from tests.board.image.programs import AVR, M0, robot_program
from tests.board.image.spelling import disassembled, in_avr, in_thumb
from tests.boards.elf import read_firmware
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS

Decode = Callable[[Code, int], Instruction]
NOT_ON_THE_328P = (".word", "elpm", "xch", "las", "lac", "lat", "des", "eijmp", "eicall", "spm")
"""What objdump knows of other AVRs, or calls no instruction; `spm Z+` is one of them."""
NOT_IN_V6M = (
    "",
    "cbz",
    "cbnz",
    "bx",
    "bxns",
    "blxns",
    "hlt",
    "setpan",
    "setend",
    "sevlmi",
    "cpsie",
    "cpsid",
)
"""What objdump knows of newer ones, or with reserved bits set: `bx` and `cps` have one form each here."""
HINTS = {"yieldeq": "yield", "wfene": "wfe", "wfics": "wfi", "sevcc": "sev"}
"""objdump takes what follows an IT instruction for conditional; ARMv6-M has none."""


def differing(
    decode: Decode, spell: Callable[[Instruction], str], code: Code, lines: Iterable[tuple[int, str]]
) -> list[tuple[int, str, str]]:
    """Address, objdump's words and ours, where they differ; ours are empty where it is none."""
    found = []
    for address, text in lines:
        try:
            own = spell(decode(code, address))
        except Refused:
            own = ""
        if own != HINTS.get(text, text):
            found.append((address, text, own))
    return found


@pytest.mark.needs_tool("avr-gcc")
def test_every_word_of_the_avr_is_decoded_as_objdump_does(tmp_path: Path) -> None:
    """All 65,536 first words: the same instruction with the same operands, and none that the 328P lacks."""
    raw = b"".join(struct.pack("<HH", word, 0x1234) for word in range(1 << 16))
    path = tmp_path / "all.bin"
    path.write_bytes(raw)
    lines = list(disassembled("avr-objdump", path, "-b", "binary", "-m", "avr:5", "-D"))
    assert len(lines) > 1 << 16
    wrong = differing(decode_avr, in_avr, lambda at, count: raw[at : at + count], lines)
    assert [row for row in wrong if row[2] or row[1].split()[0] not in NOT_ON_THE_328P] == []


@pytest.mark.needs_tool("arm-none-eabi-gcc")
def test_every_half_word_of_thumb_is_decoded_as_objdump_does(tmp_path: Path) -> None:
    """All half-words that are an instruction by themselves, and none of newer architectures."""
    raw = b"".join(struct.pack("<H", word) for word in range(0xE800))
    path = tmp_path / "all.bin"
    path.write_bytes(raw)
    how = ("-b", "binary", "-m", "armv6s-m", "-Mforce-thumb", "-D")
    lines = list(disassembled("arm-none-eabi-objdump", path, *how))
    assert len(lines) == 0xE800
    wrong = differing(decode_thumb, in_thumb, lambda at, count: raw[at : at + count], lines)
    left = [row for row in wrong if row[2] or row[1].split(" ")[0] not in NOT_IN_V6M]
    assert [row for row in left if not row[1].startswith(("it", "nop", "stmia"))] == []


ROBOTS_OF = cases(["tank_pair"], sorted(set(ROBOTS) - {"tank_pair"}))


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.parametrize("robot", ROBOTS_OF)
def test_whole_programs_for_the_avr_are_decoded_as_objdump_does(robot: str) -> None:
    """Every instruction of the linked program, its two-word ones as well; tables in flash are none."""
    elf = robot_program(robot, AVR, "-O2")
    held = [symbol for name, symbol in read_firmware(elf).symbols.items() if name.startswith("amount_")]
    tables = {at for symbol in held for at in range(symbol.address, symbol.address + symbol.size)}
    lines = [line for line in disassembled("avr-objdump", elf, "-d") if line[0] not in tables]
    assert len(lines) > 400
    assert differing(decode_avr, in_avr, read_image(elf).code, lines) == []


@pytest.mark.needs_tool("arm-none-eabi-gcc")
@pytest.mark.parametrize("robot", ROBOTS_OF)
def test_whole_programs_for_arm_are_decoded_as_objdump_does(robot: str) -> None:
    """Every instruction of the linked program, calls as well; constants beside the code are none."""
    elf = robot_program(robot, M0, "-O2")
    lines = list(disassembled("arm-none-eabi-objdump", elf, "-d"))
    code = [(at, text) for at, text in lines if not text.startswith((".word", ".short"))]
    assert len(code) > 200
    assert differing(decode_thumb, in_thumb, read_image(elf).code, code) == []


@pytest.mark.needs_tool("avr-gcc")
def test_the_comparison_finds_a_wrong_table(tmp_path: Path) -> None:
    """A decoder that takes an addition for a subtraction is told with its address."""
    raw = struct.pack("<2H", 0x0C01, 0x1801)  # add r0, r1; sub r0, r1

    def wrong(code: Code, address: int) -> Instruction:
        return decode_avr(code, 2 if address == 0 else address)

    lines = [(0, "add r0, r1"), (2, "sub r0, r1")]
    found = differing(wrong, in_avr, lambda at, count: raw[at : at + count], lines)
    assert found == [(0, "add r0, r1", "sub r0, r1")]
