"""The AVR's instructions, read from flash: all that the ATmega328P has, and none besides.

Source: AVR Instruction Set Manual (DS40002198), the opcode given with each instruction. A letter stands for
a bit of the operand it names: d and r registers, k an address, q a displacement, A an I/O register, b and s
bits, K a constant.
"""

from functools import cache

from mixer.board.image.avr.timing import BRANCH_TAKEN, CYCLES
from mixer.board.image.paths.instruction import Code, Flow, Instruction, Refused
from mixer.board.image.paths.patterns import patterns_of, read

_OPCODES = """
nop    0000000000000000
movw   00000001ddddrrrr
muls   00000010ddddrrrr
mulsu  000000110ddd0rrr
fmul   000000110ddd1rrr
fmuls  000000111ddd0rrr
fmulsu 000000111ddd1rrr
cpc    000001rdddddrrrr
sbc    000010rdddddrrrr
add    000011rdddddrrrr
cpse   000100rdddddrrrr
cp     000101rdddddrrrr
sub    000110rdddddrrrr
adc    000111rdddddrrrr
and    001000rdddddrrrr
eor    001001rdddddrrrr
or     001010rdddddrrrr
mov    001011rdddddrrrr
cpi    0011KKKKddddKKKK
sbci   0100KKKKddddKKKK
subi   0101KKKKddddKKKK
ori    0110KKKKddddKKKK
andi   0111KKKKddddKKKK
ldd.z  10q0qq0ddddd0qqq
ldd.y  10q0qq0ddddd1qqq
std.z  10q0qq1ddddd0qqq
std.y  10q0qq1ddddd1qqq
lds    1001000ddddd0000
ld.z+  1001000ddddd0001
ld.-z  1001000ddddd0010
lpm.z  1001000ddddd0100
lpm.z+ 1001000ddddd0101
ld.y+  1001000ddddd1001
ld.-y  1001000ddddd1010
ld.x   1001000ddddd1100
ld.x+  1001000ddddd1101
ld.-x  1001000ddddd1110
pop    1001000ddddd1111
sts    1001001ddddd0000
st.z+  1001001ddddd0001
st.-z  1001001ddddd0010
st.y+  1001001ddddd1001
st.-y  1001001ddddd1010
st.x   1001001ddddd1100
st.x+  1001001ddddd1101
st.-x  1001001ddddd1110
push   1001001ddddd1111
com    1001010ddddd0000
neg    1001010ddddd0001
swap   1001010ddddd0010
inc    1001010ddddd0011
asr    1001010ddddd0101
lsr    1001010ddddd0110
ror    1001010ddddd0111
dec    1001010ddddd1010
bset   100101000sss1000
bclr   100101001sss1000
ret    1001010100001000
reti   1001010100011000
sleep  1001010110001000
break  1001010110011000
wdr    1001010110101000
lpm    1001010111001000
spm    1001010111101000
ijmp   1001010000001001
icall  1001010100001001
jmp    1001010kkkkk110k
call   1001010kkkkk111k
adiw   10010110KKddKKKK
sbiw   10010111KKddKKKK
cbi    10011000AAAAAbbb
sbic   10011001AAAAAbbb
sbi    10011010AAAAAbbb
sbis   10011011AAAAAbbb
mul    100111rdddddrrrr
in     10110AAdddddAAAA
out    10111AAdddddAAAA
rjmp   1100kkkkkkkkkkkk
rcall  1101kkkkkkkkkkkk
ldi    1110KKKKddddKKKK
brbs   111100kkkkkkksss
brbc   111101kkkkkkksss
bld    1111100ddddd0bbb
bst    1111101ddddd0bbb
sbrc   1111110ddddd0bbb
sbrs   1111111ddddd0bbb
"""
_LONG = ("lds", "sts", "jmp", "call")
"""Those with a second word."""
_FLOWS = {
    **dict.fromkeys(("brbs", "brbc", "cpse", "sbrc", "sbrs", "sbic", "sbis"), Flow.BRANCH),
    **dict.fromkeys(("rjmp", "jmp"), Flow.JUMP),
    **dict.fromkeys(("rcall", "call"), Flow.CALL),
    **dict.fromkeys(("ret", "reti"), Flow.RETURN),
    **dict.fromkeys(("ijmp", "icall", "sleep", "break", "spm"), Flow.UNKNOWN),
}
_PATTERNS = patterns_of(_OPCODES, "drAbskqK")
_UPPER = frozenset({"cpi", "sbci", "subi", "ori", "andi", "ldi", "muls"})
_MIDDLE = frozenset({"mulsu", "fmul", "fmuls", "fmulsu"})


@cache
def _split(word: int) -> tuple[str, tuple[int, ...]] | None:
    """Name and operands of a first word; None where the ATmega328P has no such instruction."""
    return read(_PATTERNS, word, _meant)


def _meant(name: str, letter: str, number: int) -> int:
    """An operand's bits as the number they stand for."""
    if letter in "dr":
        if name == "movw":
            return 2 * number
        if name in ("adiw", "sbiw"):
            return 24 + 2 * number
        return number + 16 if name in _UPPER or name in _MIDDLE else number
    if letter == "k" and name in ("rjmp", "rcall", "brbs", "brbc"):
        width = 7 if name.startswith("br") else 12
        return number - (1 << width) if number >> (width - 1) else number
    return number


def decode(code: Code, address: int) -> Instruction:
    """The instruction at an address of flash. Raises Refused where there is none."""
    raw = code(address, 4)
    found = _split(int.from_bytes(raw[:2], "little")) if len(raw) >= 2 else None
    if found is None:
        word = raw[:2][::-1].hex() or "nothing"
        raise Refused(address, f"no instruction of the ATmega328P stands there ({word})")
    name, operands = found
    size = 4 if name in _LONG else 2
    if len(raw) < size:
        raise Refused(address, "the image ends within an instruction")
    if size == 4:
        second = int.from_bytes(raw[2:4], "little")
        operands = (operands[0] << 16 | second,) if name in ("jmp", "call") else (*operands, second)
    flow = _FLOWS.get(name, Flow.NEXT)
    target, taken = _target(code, address, name, operands) if flow in _LEADING else (-1, 0)
    return Instruction(address, size, name, operands, CYCLES[name.partition(".")[0]], flow, target, taken)


_LEADING = (Flow.BRANCH, Flow.JUMP, Flow.CALL)


def _target(code: Code, address: int, name: str, operands: tuple[int, ...]) -> tuple[int, int]:
    """Where it leads, and the cycles of getting there where it may also not."""
    if name in ("jmp", "call"):
        return 2 * operands[0], 0
    if name in ("rjmp", "rcall"):
        return (address + 2 + 2 * operands[0]) & 0x7FFF, 0  # 32 KB of flash: addresses wrap round
    if name in ("brbs", "brbc"):
        return (address + 2 + 2 * operands[1]) & 0x7FFF, BRANCH_TAKEN
    raw = code(address + 2, 2)
    skipped = _split(int.from_bytes(raw, "little")) if raw else None
    words = 2 if skipped and skipped[0] in _LONG else 1
    return address + 2 + 2 * words, 1 + words
