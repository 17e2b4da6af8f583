"""What each instruction of the AVR does to what is known of its registers, flags and memory.

Source: AVR Instruction Set Manual (DS40002198), "Operation" and "Status Register" of each instruction. What
is not worth following becomes a number of which nothing is known, which is never wrong.

The flags of a subtraction or comparison over several bytes are comparisons of the whole numbers: `CHAIN`
says which, as the carry goes from one byte to the next.
"""

from collections.abc import Callable, Mapping
from typing import Final

from mixer.board.image.avr.words import (
    AvrState,
    added,
    combined8,
    high_of,
    longer,
    low_of,
    pair,
    subtracted,
)
from mixer.board.image.paths.compare import BELOW, EQUAL, LESS, NO, YES, flag, truth
from mixer.board.image.paths.instruction import Instruction, Refused
from mixer.board.image.paths.intervals import Range, full, placed
from mixer.board.image.paths.state import LOST_STACK, STACK, Cell, Shape

SPL, SPH = 32, 33
CARRY, ZERO, NEGATIVE, OVERFLOW, SIGN, HALF, BIT, INTERRUPT = range(34, 42)
"""The flags, in the order of their numbers in the status register."""
CHAIN, FIRST, SECOND, WIDTH = range(42, 46)
"""Whether the carry is a sum's or a difference's, of which numbers, of how many bits."""
_NO_CHAIN, _SUB, _ADD = ~0, ~1, ~2
SHAPE: Final = Shape((8,) * 34 + (1,) * 8 + (8, 32, 32, 8), 8)
STACK_LOWER = 0x3D
_STACK_UPPER, _STATUS = 0x3E, 0x3F
"""Numbers of I/O registers."""
_CORE = range(0x5D, 0x60)
"""Addresses of the stack pointer and of the status register."""
_POINTERS = {"x": 26, "y": 28, "z": 30}


def _unknown(state: AvrState, bits: int = 8) -> int:
    return state.values.fresh(bits)


def _made(state: AvrState, op: str, *args: int) -> int:
    """The byte of an operation whose outcome is not followed further than: the same again is the same."""
    return state.values.node(op, args, 8)


def _narrowed(state: AvrState, value: int, reach: Range) -> int:
    if value >= 0 and reach != full(8):
        state.learn(value, reach, 8)
    return value


def _word(state: AvrState, register: int) -> int:
    return pair(state.values, state.slots[register], state.slots[register + 1])


def _put_word(state: AvrState, register: int, word: int) -> None:
    state.slots[register] = low_of(state.values, word)
    state.slots[register + 1] = high_of(state.values, word)


def _result_flags(state: AvrState, result: int, *, overflow: int | None = None) -> None:
    """Zero, negative and sign by a result of one byte."""
    slots = state.slots
    slots[ZERO] = flag(state, EQUAL, result, ~0, 8)
    slots[NEGATIVE] = flag(state, LESS, result, ~0, 8)
    slots[OVERFLOW] = _unknown(state, 1) if overflow is None else overflow
    slots[SIGN] = slots[NEGATIVE] if overflow == NO else _unknown(state, 1)


def _end_chain(state: AvrState) -> None:
    state.slots[CHAIN] = _NO_CHAIN


# Sums and differences.


def _begin(state: AvrState, kind: int, one: int, other: int) -> int:
    """The lowest byte of a difference or a sum: flags, and its result."""
    slots = state.slots
    slots[CHAIN], slots[FIRST], slots[SECOND], slots[WIDTH] = kind, one, other, ~8
    result = _byte(state, kind, one, other)
    if kind == _SUB:
        _difference_flags(state, one, other, 8)
    else:
        slots[CARRY] = _carried(state, one, other, 8)
        _result_flags(state, result)
    slots[HALF] = _unknown(state, 1)
    slots[NEGATIVE] = flag(state, LESS, result, ~0, 8)
    return result


def _byte(state: AvrState, kind: int, one: int, other: int) -> int:
    result = combined8(state.values, "sub" if kind == _SUB else "add", one, other)
    (low, high), (least, most) = state.reach(one), state.reach(other)
    ends = placed(low - most, high - least, 8) if kind == _SUB else placed(low + least, high + most, 8)
    return _narrowed(state, result, ends)


def _difference_flags(state: AvrState, one: int, other: int, bits: int) -> None:
    slots = state.slots
    slots[CARRY] = flag(state, BELOW, one, other, bits)
    slots[ZERO] = flag(state, EQUAL, one, other, bits)
    slots[SIGN] = flag(state, LESS, one, other, bits)
    slots[OVERFLOW] = _unknown(state, 1)


def _carried(state: AvrState, one: int, other: int, bits: int) -> int:
    """The carry out of a sum."""
    (low, high), (least, most) = state.unsigned(one, bits), state.unsigned(other, bits)
    if high + most < 1 << bits:
        return NO
    if low + least >= 1 << bits:
        return YES
    return state.values.node("carry", (*sorted((one, other)), ~bits), 1)


def _go_on(state: AvrState, kind: int, one: int, other: int) -> int:
    """A higher byte: with a chain the whole number's flags, without one what the carry allows."""
    slots, values = state.slots, state.values
    if slots[CHAIN] != kind or slots[WIDTH] >= 0:
        return _loose(state, kind, one, other)
    bits = ~slots[WIDTH]
    first = longer(values, slots[FIRST], one, bits)
    second = longer(values, slots[SECOND], other, bits)
    slots[FIRST], slots[SECOND], slots[WIDTH] = first, second, ~(bits + 8)
    if bits == 8:
        word = subtracted(state, first, second) if kind == _SUB else added(state, first, second)
        result = high_of(values, word)
    else:
        result = _made(state, "sbc" if kind == _SUB else "adc", first, second)
    if first < 0 and second < 0:
        whole = ~first - ~second if kind == _SUB else ~first + ~second
        result = ~(whole >> bits & 0xFF)
    if kind == _SUB:
        _difference_flags(state, first, second, bits + 8)
    else:
        slots[CARRY] = _carried(state, first, second, bits + 8)
        _result_flags(state, result)
    slots[NEGATIVE] = flag(state, LESS, result, ~0, 8)
    slots[HALF] = _unknown(state, 1)
    return result


def _loose(state: AvrState, kind: int, one: int, other: int) -> int:
    """A sum or difference with a carry of which no more is known than its range."""
    _end_chain(state)
    (low, high), (least, most) = state.unsigned(one, 8), state.unsigned(other, 8)
    carry = state.reach(state.slots[CARRY])
    if kind == _SUB:
        result = _ranged(state, placed(low - most - carry[1], high - least - carry[0], 8))
    else:
        result = _ranged(state, placed(low + least + carry[0], high + most + carry[1], 8))
    _result_flags(state, result)
    for at in (CARRY, HALF):
        state.slots[at] = _unknown(state, 1)
    return result


def _ranged(state: AvrState, reach: Range) -> int:
    if reach[0] == reach[1]:
        return ~(reach[0] & 0xFF)
    return _narrowed(state, _unknown(state), reach)


def _sub(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    other = ~by if ins.name == "subi" else state.slots[by]
    state.slots[to] = _begin(state, _SUB, state.slots[to], other)


def _sbc(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    if ins.name == "sbc" and to == by:
        _spread(state, to)
        return
    other = ~by if ins.name == "sbci" else state.slots[by]
    state.slots[to] = _sticky(state, state.slots[to], other)


def _spread(state: AvrState, to: int) -> None:
    """A register less itself less the carry: 0 or 255, as the carry says; carry and zero stay."""
    slots = state.slots
    known = truth(state, slots[CARRY])
    slots[to] = _ranged(state, (-1, 0)) if known is None else ~(255 if known else 0)
    slots[NEGATIVE] = slots[SIGN] = slots[HALF] = slots[CARRY]
    slots[OVERFLOW] = NO
    _end_chain(state)


def _sticky(state: AvrState, one: int, other: int) -> int:
    """A higher byte of a difference. Zero stays set only where it was: a chain's says that by itself."""
    before, chained = state.slots[ZERO], state.slots[CHAIN] == _SUB
    result = _go_on(state, _SUB, one, other)
    if not chained and truth(state, before) is False:
        state.slots[ZERO] = NO
    elif not chained and truth(state, state.slots[ZERO]) is not False:
        state.slots[ZERO] = _unknown(state, 1)
    return result


def _cp(state: AvrState, ins: Instruction) -> None:
    one, by = ins.operands
    _begin(state, _SUB, state.slots[one], ~by if ins.name == "cpi" else state.slots[by])


def _cpc(state: AvrState, ins: Instruction) -> None:
    one, by = ins.operands
    _sticky(state, state.slots[one], state.slots[by])


def _add(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = _begin(state, _ADD, state.slots[to], state.slots[by])


def _adc(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = _go_on(state, _ADD, state.slots[to], state.slots[by])


def _adiw(state: AvrState, ins: Instruction) -> None:
    to, number = ins.operands
    word, by = _word(state, to), ~number
    _end_chain(state)
    if ins.name == "sbiw":
        _difference_flags(state, word, by, 16)
        made = subtracted(state, word, by)
    else:
        state.slots[CARRY] = _carried(state, word, by, 16)
        made = added(state, word, by)
        state.slots[ZERO] = flag(state, EQUAL, made, ~0, 16)
        state.slots[SIGN] = state.slots[OVERFLOW] = _unknown(state, 1)
    state.slots[NEGATIVE] = flag(state, LESS, made, ~0, 16)
    _put_word(state, to, made)


def _neg(state: AvrState, ins: Instruction) -> None:
    (to,) = ins.operands
    state.slots[to] = _begin(state, _SUB, ~0, state.slots[to])


def _inc(state: AvrState, ins: Instruction) -> None:
    """One up or down; the carry, and whatever it belongs to, stays."""
    (to,) = ins.operands
    slots = state.slots
    slots[to] = _byte(state, _ADD if ins.name == "inc" else _SUB, slots[to], ~1)
    _result_flags(state, slots[to])


# Bits.


def _and(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    one, other = state.slots[to], ~by if ins.name == "andi" else state.slots[by]
    if one == other:
        result = one
    elif one < 0 and other < 0:
        result = ~(~one & ~other)
    else:
        most = min(state.unsigned(one, 8)[1], state.unsigned(other, 8)[1])
        result = _narrowed(state, _made(state, "and", *sorted((one, other))), (0, most))
    _logic(state, to, result)


def _or(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    one, other = state.slots[to], ~by if ins.name == "ori" else state.slots[by]
    is_or = ins.name != "eor"
    if one == other:
        result = one if is_or else ~0
    elif one < 0 and other < 0:
        result = ~(~one | ~other) if is_or else ~(~one ^ ~other)
    elif ~0 in (one, other):
        result = max(one, other)
    else:
        (low, high), (least, most) = state.unsigned(one, 8), state.unsigned(other, 8)
        ends = max(low, least) if is_or else 0, (1 << (high | most).bit_length()) - 1
        result = _narrowed(state, _made(state, ins.name[:2], *sorted((one, other))), ends)
    _logic(state, to, result)


def _logic(state: AvrState, to: int, result: int) -> None:
    """The result of an operation on bits; its carry stays, but is no longer worth following."""
    state.slots[to] = result
    _result_flags(state, result, overflow=NO)
    _end_chain(state)


def _com(state: AvrState, ins: Instruction) -> None:
    (to,) = ins.operands
    one = state.slots[to]
    low, high = state.unsigned(one, 8)
    result = (
        ~(255 - ~one) if one < 0 else _narrowed(state, _made(state, "com", one), (255 - high, 255 - low))
    )
    _logic(state, to, result)
    state.slots[CARRY] = YES


def _shift(state: AvrState, ins: Instruction) -> None:
    """A bit to the right: what comes in at the top is a 0, the sign or the carry."""
    (to,) = ins.operands
    one = state.slots[to]
    low, high = state.signed(one, 8) if ins.name == "asr" else state.unsigned(one, 8)
    least, most = state.reach(state.slots[CARRY]) if ins.name == "ror" else (0, 0)
    result = _ranged(state, placed((low >> 1) + 128 * least, (high >> 1) + 128 * most, 8))
    state.slots[to] = result
    _result_flags(state, result)
    state.slots[CARRY] = _bit(state, one, 0)
    _end_chain(state)


def _bit(state: AvrState, byte: int, number: int) -> int:
    """One bit of a byte as a flag."""
    if byte < 0:
        return ~(~byte >> number & 1)
    if number == 7:
        return flag(state, LESS, byte, ~0, 8)
    _, high = state.unsigned(byte, 8)
    if high <= 1:
        return flag(state, EQUAL, byte, ~1, 8) if number == 0 else NO
    return state.values.node("bit", (byte, ~number), 1)


def _swap(state: AvrState, ins: Instruction) -> None:
    (to,) = ins.operands
    one = state.slots[to]
    turned = ~((~one << 4 | ~one >> 4) & 0xFF) if one < 0 else _made(state, "swap", one)
    state.slots[to] = turned


def _product(state: AvrState, ins: Instruction) -> None:
    one, other = (state.slots[register] for register in ins.operands)
    word = state.values.node(ins.name, (one, other), 16)
    if ins.name == "mul":
        (low, high), (least, most) = state.unsigned(one, 8), state.unsigned(other, 8)
        word = ~(low * least) if low == high and least == most else word
        state.learn(word, (low * least, high * most), 16)
    _put_word(state, 0, word)
    state.slots[CARRY] = flag(state, LESS, word, ~0, 16)
    state.slots[ZERO] = flag(state, EQUAL, word, ~0, 16)
    _end_chain(state)


def _bset(state: AvrState, ins: Instruction) -> None:
    state.slots[CARRY + ins.operands[0]] = YES if ins.name == "bset" else NO
    if ins.operands[0] == 0:
        _end_chain(state)


def _bst(state: AvrState, ins: Instruction) -> None:
    register, number = ins.operands
    state.slots[BIT] = _bit(state, state.slots[register], number)


def _bld(state: AvrState, ins: Instruction) -> None:
    register, number = ins.operands
    one, known = state.slots[register], truth(state, state.slots[BIT])
    if one < 0 and known is not None:
        state.slots[register] = ~(~one & ~(1 << number) | known << number)
    else:
        state.slots[register] = _unknown(state)


# Moves, memory, ports.


def _mov(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = state.slots[by]


def _movw(state: AvrState, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to], state.slots[to + 1] = state.slots[by], state.slots[by + 1]


def _ldi(state: AvrState, ins: Instruction) -> None:
    state.slots[ins.operands[0]] = ~ins.operands[1]


def _in(state: AvrState, ins: Instruction) -> None:
    to, port = ins.operands
    stack = {STACK_LOWER: SPL, _STACK_UPPER: SPH}.get(port)
    state.slots[to] = _unknown(state) if stack is None else state.slots[stack]


def _out(state: AvrState, ins: Instruction) -> None:
    by, port = ins.operands
    stack = {STACK_LOWER: SPL, _STACK_UPPER: SPH}.get(port)
    if stack is not None:
        state.slots[stack] = state.slots[by]
        if stack == SPL:  # the compiler writes the upper byte first
            stack_pointer(state, ins.address)
    elif port == _STATUS:
        for at in range(CARRY, INTERRUPT + 1):
            state.slots[at] = _unknown(state, 1)
        _end_chain(state)


def _nothing(state: AvrState, ins: Instruction) -> None:
    del state, ins


def _address(state: AvrState, ins: Instruction) -> Cell:
    """The cell that a load or store means; its pointer steps on where the instruction says so."""
    name, _, how = ins.name.partition(".")
    if name in ("lds", "sts"):
        return ~0, ins.operands[1]
    register = _POINTERS[how.strip("+-")]
    word = _word(state, register)
    values = state.values
    base, offset = values.based(word)
    if how.startswith("-"):
        offset -= 1
        _put_word(state, register, values.at(base, offset, 16))
    elif how.endswith("+"):
        _put_word(state, register, values.at(base, offset + 1, 16))
    extra = ins.operands[1] if name in ("ldd", "std") else 0
    return base, (offset + extra) & 0xFFFF


def _load(state: AvrState, ins: Instruction) -> None:
    """What is in the cell; what is no object's may change by itself and is never remembered."""
    base, offset = cell = _address(state, ins)
    if not state.is_own(base):
        state.slots[ins.operands[0]] = _unknown(state)
        return
    if cell not in state.memory:
        state.memory[cell] = _unknown(state)
    state.slots[ins.operands[0]] = state.memory[base, offset]


def _store(state: AvrState, ins: Instruction) -> None:
    base, offset = cell = _address(state, ins)
    if base < 0 and (offset < 32 or offset in _CORE):
        raise Refused(ins.address, f"it writes a register of the core by its address {offset:#x}")
    state.store(cell, state.slots[ins.operands[0]], offset)


def _lpm(state: AvrState, ins: Instruction) -> None:
    """A byte of flash; which one is not followed, since a table's is not known anyway."""
    to = ins.operands[0] if ins.operands else 0
    if ins.name == "lpm.z+":
        _put_word(state, 30, added(state, _word(state, 30), ~1))
    state.slots[to] = _unknown(state)


def _push(state: AvrState, ins: Instruction) -> None:
    # r0 and r1 hold nothing that lasts: the compiler pushes them to make room.
    push(state, ins.address, state.slots[ins.operands[0]], is_room=ins.operands[0] < 2)


def _pop(state: AvrState, ins: Instruction) -> None:
    state.slots[ins.operands[0]] = pop(state, ins.address)


def stack_pointer(state: AvrState, address: int) -> Cell:
    """Where the stack pointer stands. Raises Refused where that is not known any more."""
    base, offset = state.values.based(_word(state, SPL))
    if state.values.op(base) != STACK:
        raise Refused(address, LOST_STACK)
    return base, offset


def push(state: AvrState, address: int, byte: int, *, is_room: bool = False) -> None:
    """Put a byte on the stack: to be popped again, or as room for an object."""
    base, offset = stack_pointer(state, address)
    state.memory[base, offset] = byte
    if not is_room:
        state.saved.add((base, offset))
    _put_word(state, SPL, state.values.at(base, offset - 1, 16))


def pop(state: AvrState, address: int) -> int:
    """Take one from it."""
    base, offset = stack_pointer(state, address)
    cell = base, (offset + 1) & 0xFFFF
    _put_word(state, SPL, state.values.at(*cell, 16))
    state.saved.discard(cell)
    return state.memory.get(cell, state.values.fresh(8))


_STEPS: Final[Mapping[str, Callable[[AvrState, Instruction], None]]] = {
    **dict.fromkeys(("sub", "subi"), _sub),
    **dict.fromkeys(("sbc", "sbci"), _sbc),
    **dict.fromkeys(("cp", "cpi"), _cp),
    "cpc": _cpc,
    "add": _add,
    "adc": _adc,
    **dict.fromkeys(("adiw", "sbiw"), _adiw),
    "neg": _neg,
    **dict.fromkeys(("inc", "dec"), _inc),
    **dict.fromkeys(("and", "andi"), _and),
    **dict.fromkeys(("or", "ori", "eor"), _or),
    "com": _com,
    **dict.fromkeys(("asr", "lsr", "ror"), _shift),
    "swap": _swap,
    **dict.fromkeys(("mul", "muls", "mulsu", "fmul", "fmuls", "fmulsu"), _product),
    **dict.fromkeys(("bset", "bclr"), _bset),
    "bst": _bst,
    "bld": _bld,
    "mov": _mov,
    "movw": _movw,
    "ldi": _ldi,
    "in": _in,
    "out": _out,
    **dict.fromkeys(("nop", "wdr", "sbi", "cbi"), _nothing),
    **dict.fromkeys(("ld", "ldd", "lds"), _load),
    **dict.fromkeys(("st", "std", "sts"), _store),
    "lpm": _lpm,
    "push": _push,
    "pop": _pop,
}


def step(state: AvrState, ins: Instruction) -> None:
    """Run one instruction that goes on with the next. Raises Refused where the stack is lost."""
    _STEPS[ins.name.partition(".")[0]](state, ins)


def condition(state: AvrState, ins: Instruction) -> tuple[int, bool]:
    """The flag that a branch or a skip asks, and what it has to be for it to be taken."""
    name, (one, *rest) = ins.name, ins.operands
    if name in ("brbs", "brbc"):
        return state.slots[CARRY + one], name == "brbs"
    if name == "cpse":
        return flag(state, EQUAL, state.slots[one], state.slots[rest[0]], 8), True
    if name in ("sbrc", "sbrs"):
        return _bit(state, state.slots[one], rest[0]), name == "sbrs"
    return _unknown(state, 1), True  # sbic, sbis: what a port says
