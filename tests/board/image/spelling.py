"""Decoded instructions in the words of GNU objdump, which decodes them a second time for the tests."""

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

from mixer.board.image.paths.instruction import Instruction

_FLAGS = "cznvshti"
_BRANCHES = {
    "brbs": ("brcs", "breq", "brmi", "brvs", "brlt", "brhs", "brts", "brie"),
    "brbc": ("brcc", "brne", "brpl", "brvc", "brge", "brhc", "brtc", "brid"),
}


_POINTERS = {how: how.upper() for how in ("z", "y", "x", "z+", "y+", "x+", "-z", "-y", "-x")}
_AVR = {
    "lds": "lds r{0}, 0x{1:04X}",
    "sts": "sts 0x{1:04X}, r{0}",
    "in": "in r{0}, 0x{1:02x}",
    "out": "out 0x{1:02x}, r{0}",
    **{name: name + " 0x{0:02x}, {1}" for name in ("sbi", "cbi", "sbic", "sbis")},
    **{name: name + " r{0}, 0x{1:02X}" for name in ("cpi", "sbci", "subi", "ori", "andi", "ldi")},
    **{name: name + " r{0}, 0x{1:02x}" for name in ("adiw", "sbiw")},
    **{name: name + " r{0}, {1}" for name in ("bld", "bst", "sbrc", "sbrs")},
}
"""How operands are written where they are not registers alone."""


def in_avr(ins: Instruction) -> str:
    """As avr-objdump writes it, comments left out."""
    name, _, how = ins.name.partition(".")
    operands = ins.operands
    if name in _BRANCHES:
        return f"{_BRANCHES[name][operands[0]]} .{2 * operands[1]:+d}"
    if name in ("bset", "bclr"):
        return f"{'se' if name == 'bset' else 'cl'}{_FLAGS[operands[0]]}"
    if name in ("rjmp", "rcall"):
        return f"{name} .{2 * operands[0]:+d}"
    if name in ("jmp", "call"):
        return f"{name} {2 * operands[0]:#x}".replace(" 0x0", " 0")
    if how:
        pointer = _POINTERS[how]
        if name in ("ldd", "std"):
            name, pointer = (name, f"{pointer}+{operands[1]}") if operands[1] else (name[:2], pointer)
        both = [f"r{operands[0]}", pointer]
        return _joined(name, both[::-1] if name[0] == "s" else both)
    return _AVR[name].format(*operands) if name in _AVR else _joined(name, [f"r{at}" for at in operands])


def _joined(name: str, operands: list[str]) -> str:
    return f"{name} {', '.join(operands)}".strip()


_REGISTERS = [*(f"r{number}" for number in range(10)), "sl", "fp", "ip", "sp", "lr", "pc"]
_CONDITIONS = ["eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le"]
_LOADS = ("ldr", "str", "ldrh", "strh", "ldrb", "strb", "ldrsh", "ldrsb")
_THUMB = {
    **{f"{name}.i": name + " {r[0]}, {r[1]}, #{n[2]}" for name in ("lsls", "lsrs", "asrs")},
    **{f"{name}.3": name + " {r[0]}, {r[1]}, #{n[2]}" for name in ("adds", "subs")},
    **{f"{name}.8": name + " {r[0]}, #{n[1]}" for name in ("adds", "subs")},
    **{f"{name}.r": name + " {r[0]}, [{r[1]}, {r[2]}]" for name in _LOADS},
    **{f"{name}.i": name + " {r[0]}, [{r[1]}, #{n[2]}]" for name in _LOADS},
    **{f"{name}.s": name + " {r[0]}, [sp, #{n[1]}]" for name in _LOADS},
    "ldr.l": "ldr {r[0]}, [pc, #{n[1]}]",
    "adr": "add {r[0]}, pc, #{n[1]}",
    "add.s": "add {r[0]}, sp, #{n[1]}",
    "add.sp": "add sp, #{n[0]}",
    "sub.sp": "sub sp, #{n[0]}",
    "movs.i": "movs {r[0]}, #{n[1]}",
    "cmp.i": "cmp {r[0]}, #{n[1]}",
    "rsbs": "negs {r[0]}, {r[1]}",
    "bkpt": "bkpt 0x{n[0]:04x}",
    "udf": "udf #{n[0]}",
    "svc": "svc {n[0]}",
}
"""How operands are written where they are not registers alone: r as registers, n as numbers."""


def in_thumb(ins: Instruction) -> str:
    """As arm-none-eabi-objdump writes it, comments left out."""
    name, _, form = ins.name.partition(".")
    operands = ins.operands
    named = [_REGISTERS[number] if 0 <= number < 16 else "" for number in operands]
    if name in ("b", "bl"):
        condition = _CONDITIONS[operands[0]] if form == "c" else ""
        return f"{name}{condition}{'' if name == 'bl' else '.n'} {ins.address + 4 + operands[-1]:x}"
    if name in ("push", "pop", "ldm", "stm"):
        listed = "{" + ", ".join(_REGISTERS[at] for at in range(16) if operands[-1] >> at & 1) + "}"
        if name in ("push", "pop"):
            return f"{name} {listed}"
        back = "!" if name == "stm" or not operands[1] >> operands[0] & 1 else ""
        return f"{name}ia {named[0]}{back}, {listed}"
    if name == "cps":
        return f"cpsi{'d' if operands[0] else 'e'} i"
    if ins.name == "lsls.i" and not operands[2]:
        name, named = "movs", named[:2]
    elif ins.name in _THUMB:
        return _THUMB[ins.name].format(r=named, n=operands)
    return _joined(name, named) if (ins.name, operands) != ("mov.r", (8, 8)) else "nop"


_LINE = re.compile(r"^ *([0-9a-f]+):\t[0-9a-f ]+\t(.*)$")


def disassembled(tool: str, path: Path, *flags: str) -> Iterator[tuple[int, str]]:
    """Address and instruction of every line that objdump writes."""
    done = subprocess.run(
        [tool, "-z", *flags, str(path)], check=True, capture_output=True, text=True, timeout=60
    )
    for line in done.stdout.splitlines():
        found = _LINE.match(line)
        if found:
            text = re.split(r"\s*[;@<]", found[2].replace("\t", " "))[0]
            text = re.sub(r"\s+", " ", text).strip()
            yield int(found[1], 16), re.sub(r"^(b\w*\.n|bl) 0x", r"\1 ", text)
