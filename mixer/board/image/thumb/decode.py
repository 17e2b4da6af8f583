"""The instructions of ARMv6-M, read from the image: all of them, and none besides.

Source: ARMv6-M Architecture Reference Manual (ARM DDI 0419), chapters A5 "The Thumb Instruction Set
Encoding" and A6.7. A letter stands for a bit of the operand it names: d, n and m registers, i a constant, r
a list of registers, c a condition.
"""

from functools import cache

from mixer.board.image.paths.instruction import Code, Flow, Instruction, Refused
from mixer.board.image.paths.patterns import patterns_of, read
from mixer.board.image.thumb.timing import BRANCH_TAKEN, CYCLES

_OPCODES = """
lsls.i  00000iiiiimmmddd
lsrs.i  00001iiiiimmmddd
asrs.i  00010iiiiimmmddd
adds.r  0001100mmmnnnddd
subs.r  0001101mmmnnnddd
adds.3  0001110iiinnnddd
subs.3  0001111iiinnnddd
movs.i  00100dddiiiiiiii
cmp.i   00101nnniiiiiiii
adds.8  00110dddiiiiiiii
subs.8  00111dddiiiiiiii
ands    0100000000mmmddd
eors    0100000001mmmddd
lsls.r  0100000010mmmddd
lsrs.r  0100000011mmmddd
asrs.r  0100000100mmmddd
adcs    0100000101mmmddd
sbcs    0100000110mmmddd
rors    0100000111mmmddd
tst     0100001000mmmnnn
rsbs    0100001001nnnddd
cmp.r   0100001010mmmnnn
cmn     0100001011mmmnnn
orrs    0100001100mmmddd
muls    0100001101nnnddd
bics    0100001110mmmddd
mvns    0100001111mmmddd
add.r   01000100dmmmmddd
cmp.h   01000101nmmmmnnn
mov.r   01000110dmmmmddd
bx      010001110mmmm000
blx     010001111mmmm000
ldr.l   01001dddiiiiiiii
str.r   0101000mmmnnnddd
strh.r  0101001mmmnnnddd
strb.r  0101010mmmnnnddd
ldrsb.r 0101011mmmnnnddd
ldr.r   0101100mmmnnnddd
ldrh.r  0101101mmmnnnddd
ldrb.r  0101110mmmnnnddd
ldrsh.r 0101111mmmnnnddd
str.i   01100iiiiinnnddd
ldr.i   01101iiiiinnnddd
strb.i  01110iiiiinnnddd
ldrb.i  01111iiiiinnnddd
strh.i  10000iiiiinnnddd
ldrh.i  10001iiiiinnnddd
str.s   10010dddiiiiiiii
ldr.s   10011dddiiiiiiii
adr     10100dddiiiiiiii
add.s   10101dddiiiiiiii
add.sp  101100000iiiiiii
sub.sp  101100001iiiiiii
sxth    1011001000mmmddd
sxtb    1011001001mmmddd
uxth    1011001010mmmddd
uxtb    1011001011mmmddd
push    1011010rrrrrrrrr
cps     10110110011i0010
rev     1011101000mmmddd
rev16   1011101001mmmddd
revsh   1011101011mmmddd
pop     1011110rrrrrrrrr
bkpt    10111110iiiiiiii
nop     1011111100000000
yield   1011111100010000
wfe     1011111100100000
wfi     1011111100110000
sev     1011111101000000
stm     11000nnnrrrrrrrr
ldm     11001nnnrrrrrrrr
udf     11011110iiiiiiii
svc     11011111iiiiiiii
b.c     1101cccciiiiiiii
b       11100iiiiiiiiiii
"""
_PATTERNS = patterns_of(_OPCODES, "dnmcir")
_SCALES = {
    **dict.fromkeys(("str.i", "ldr.i", "str.s", "ldr.s", "ldr.l", "adr", "add.s", "add.sp", "sub.sp"), 4),
    **dict.fromkeys(("strh.i", "ldrh.i"), 2),
}
_SIGNED = {"b.c": 8, "b": 11}
"""Bits of a displacement in half-words."""
LINK, COUNTER = 14, 15
"""Numbers of the link register and the program counter."""
_FLOWS = {
    "b.c": Flow.BRANCH,
    "b": Flow.JUMP,
    "bl": Flow.CALL,
    "bx": Flow.RETURN,
    "pop.pc": Flow.RETURN,
    **dict.fromkeys(("blx", "bkpt", "udf", "svc", "wfe", "wfi", "mov.pc", "add.pc"), Flow.UNKNOWN),
}
_MANY = ("push", "pop", "pop.pc", "ldm", "stm")


@cache
def _split(word: int) -> tuple[str, tuple[int, ...]] | None:
    """Name and operands of an instruction of one half-word; None where there is none."""
    found = read(_PATTERNS, word, _meant)
    return None if found is None else _named(*found)


def _meant(name: str, letter: str, number: int) -> int:
    """A constant's bits as the number they stand for."""
    if letter != "i":
        return number
    if name in _SIGNED:
        width = _SIGNED[name]
        return 2 * (number - (1 << width) if number >> (width - 1) else number)
    if name in ("lsrs.i", "asrs.i") and not number:
        return 32
    return number * _SCALES.get(name, 1)


def _named(name: str, operands: tuple[int, ...]) -> tuple[str, tuple[int, ...]]:
    """What goes to the program counter has a name of its own; a list's ninth register is LR or PC."""
    if name in ("mov.r", "add.r") and operands[0] == COUNTER:
        return f"{name[:3]}.pc", operands
    if name == "push" and operands[0] >> 8:
        return name, (operands[0] & 0xFF | 1 << LINK,)
    if name == "pop" and operands[0] >> 8:
        return "pop.pc", (operands[0] & 0xFF | 1 << COUNTER,)
    return name, operands


def _wide(first: int, second: int) -> tuple[str, tuple[int, ...]] | None:
    """An instruction of two half-words."""
    if first >> 11 == 0b11110 and second & 0xD000 == 0xD000:
        sign = first >> 10 & 1
        one, two = (1 - (second >> at & 1 ^ sign) for at in (13, 11))
        number = sign << 24 | one << 23 | two << 22 | (first & 0x3FF) << 12 | (second & 0x7FF) << 1
        return "bl", (number - (sign << 25),)
    if first & 0xFFF0 == 0xF380 and second & 0xFF00 == 0x8800:
        return "msr", (second & 0xFF, first & 15)
    if first == 0xF3EF and second & 0xF000 == 0x8000:
        return "mrs", (second >> 8 & 15, second & 0xFF)
    barriers = {0x8F40: "dsb", 0x8F50: "dmb", 0x8F60: "isb"}
    if first == 0xF3BF and second & 0xFFF0 in barriers:
        return barriers[second & 0xFFF0], (second & 15,)
    return None


def decode(code: Code, address: int) -> Instruction:
    """The instruction at an address. Raises Refused where there is none."""
    raw = code(address, 4)
    first, second = (int.from_bytes(raw[at : at + 2], "little") for at in (0, 2))
    is_wide = first >> 11 in (0b11101, 0b11110, 0b11111)
    size = 4 if is_wide else 2
    found = (_wide(first, second) if is_wide else _split(first)) if len(raw) >= size else None
    if found is None:
        word = raw[:2][::-1].hex() or "nothing"
        raise Refused(address, f"no instruction of ARMv6-M stands there ({word})")
    name, operands = found
    cycles = CYCLES.get(name, CYCLES.get(name.partition(".")[0], 1))
    if name in _MANY:
        cycles += operands[-1].bit_count()
    target = address + 4 + operands[-1] if name in ("b", "b.c", "bl") else -1
    flow = _FLOWS.get(name, Flow.NEXT)
    return Instruction(address, size, name, operands, cycles, flow, target, BRANCH_TAKEN)
