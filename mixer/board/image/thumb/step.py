"""What each instruction of ARMv6-M does to what is known of its registers, flags and memory.

Source: ARMv6-M Architecture Reference Manual (ARM DDI 0419), A6.7 "Alphabetical list of Thumb
instructions", operation and flags of each. What is not worth following becomes a number of which nothing is
known, which is never wrong.
"""

from collections.abc import Callable, Mapping
from typing import Final

from mixer.board.image.paths.compare import BELOW, EQUAL, LESS, NO, YES, flag, negated, truth
from mixer.board.image.paths.instruction import Code, Instruction, Refused
from mixer.board.image.paths.intervals import Range, full, placed
from mixer.board.image.paths.state import LOST_STACK, STACK, Cell, Shape, State
from mixer.board.image.thumb.decode import COUNTER
from mixer.board.image.thumb.timing import BUSES

POINTER = 13
"""Number of the stack pointer."""
NEGATIVE, ZERO, CARRY, OVERFLOW = range(16, 20)
COMPARED, FIRST, SECOND = range(20, 23)
"""Whether the flags are those of a comparison, and of which two numbers."""
SHAPE: Final = Shape((32,) * 16 + (1,) * 5 + (32, 32), 32)


def _unknown(state: State, bits: int = 32) -> int:
    return state.values.fresh(bits)


def _ranged(state: State, value: int, reach: Range) -> int:
    """A value whose range is also this; a constant where that is a single number."""
    if reach[0] == reach[1]:
        return ~(reach[0] & 0xFFFFFFFF)
    if value >= 0 and reach != full(32):
        state.learn(value, reach, 32)
    return value


def _put(state: State, to: int, value: int) -> None:
    """A result with its negative and zero flags; overflow and carry stay."""
    state.slots[to] = value
    state.slots[NEGATIVE] = flag(state, LESS, value, ~0, 32)
    state.slots[ZERO] = flag(state, EQUAL, value, ~0, 32)
    state.slots[COMPARED] = NO


# Sums and differences.


def _sum(state: State, one: int, other: int) -> int:
    values = state.values
    if one < 0:
        one, other = other, one
    if other < 0:
        base, offset = values.based(one)
        value = values.at(base, offset + ~other, 32)
    else:
        value = values.node("sum", (min(one, other), max(one, other)), 32)
    (low, high), (least, most) = state.reach(one), state.reach(other)
    return _ranged(state, value, placed(low + least, high + most, 32))


def _difference(state: State, one: int, other: int) -> int:
    values = state.values
    if one == other:
        return ~0
    if other < 0:
        base, offset = values.based(one)
        value = values.at(base, offset - ~other, 32)
    else:
        value = values.node("difference", (one, other), 32)
    (low, high), (least, most) = state.reach(one), state.reach(other)
    return _ranged(state, value, placed(low - most, high - least, 32))


def _compare(state: State, one: int, other: int) -> int:
    """Flags of a difference, and the difference."""
    slots = state.slots
    result = _difference(state, one, other)
    slots[ZERO] = flag(state, EQUAL, one, other, 32)
    slots[CARRY] = negated(state, flag(state, BELOW, one, other, 32))
    slots[NEGATIVE] = flag(state, LESS, result, ~0, 32)
    slots[OVERFLOW] = _unknown(state, 1)
    slots[COMPARED], slots[FIRST], slots[SECOND] = YES, one, other
    return result


def _add_flags(state: State, one: int, other: int, to: int) -> None:
    result = _sum(state, one, other)
    (low, high), (least, most) = state.unsigned(one, 32), state.unsigned(other, 32)
    carry = NO if high + most < 1 << 32 else YES if low + least >= 1 << 32 else _unknown(state, 1)
    if one == other:
        carry = flag(state, LESS, one, ~0, 32)
    _put(state, to, result)
    (low, high), (least, most) = state.signed(one, 32), state.signed(other, 32)
    stays = low + least >= -(1 << 31) and high + most < 1 << 31
    state.slots[CARRY], state.slots[OVERFLOW] = carry, NO if stays else _unknown(state, 1)


def _numbers(state: State, ins: Instruction) -> tuple[int, int]:
    """Both numbers of an addition or subtraction, whichever form it has."""
    kind = ins.name.partition(".")[2]
    if kind == "8":
        return state.slots[ins.operands[0]], ~ins.operands[1]
    one = state.slots[ins.operands[1]]
    return one, ~ins.operands[2] if kind == "3" else state.slots[ins.operands[2]]


def _adds(state: State, ins: Instruction) -> None:
    _add_flags(state, *_numbers(state, ins), ins.operands[0])


def _subs(state: State, ins: Instruction) -> None:
    state.slots[ins.operands[0]] = _compare(state, *_numbers(state, ins))


def _cmp(state: State, ins: Instruction) -> None:
    one, other = ins.operands
    _compare(state, state.slots[one], ~other if ins.name == "cmp.i" else state.slots[other])


def _rsbs(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = _compare(state, ~0, state.slots[by])


def _cmn(state: State, ins: Instruction) -> None:
    one, other = (state.slots[register] for register in ins.operands)
    kept = state.slots[0]
    _add_flags(state, one, other, 0)
    state.slots[0] = kept


def _adcs(state: State, ins: Instruction) -> None:
    """A sum with the carry, or a difference without it."""
    to, by = ins.operands
    one, other = state.slots[to], state.slots[by]
    (low, high), (least, most) = state.reach(one), state.reach(other)
    carry = state.reach(state.slots[CARRY])
    if ins.name == "adcs":
        ends = placed(low + least + carry[0], high + most + carry[1], 32)
        out = flag(state, LESS, one, ~0, 32) if one == other else _unknown(state, 1)
    elif one == other:  # 0 or -1, as the carry says; the carry stays
        ends, out = (carry[0] - 1, carry[1] - 1), state.slots[CARRY]
    else:
        ends = placed(low - most - 1 + carry[0], high - least - 1 + carry[1], 32)
        out = _unknown(state, 1)
    _put(state, to, _ranged(state, _unknown(state), ends))
    state.slots[CARRY], state.slots[OVERFLOW] = out, _unknown(state, 1)


def _add(state: State, ins: Instruction) -> None:
    """Those that leave the flags alone: with any register, and with the stack pointer."""
    if ins.name == "add.s":
        state.slots[ins.operands[0]] = _sum(state, state.slots[POINTER], ~ins.operands[1])
    elif ins.name == "add.r":
        to, by = ins.operands
        other = _unknown(state) if by == COUNTER else state.slots[by]
        state.slots[to] = _sum(state, state.slots[to], other)
        if to == POINTER:
            stack_pointer(state, ins.address)
    else:
        number = ins.operands[0] if ins.name == "add.sp" else -ins.operands[0]
        state.slots[POINTER] = _sum(state, state.slots[POINTER], ~(number & 0xFFFFFFFF))


def _muls(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    one, other = state.slots[by], state.slots[to]
    value = state.values.node("product", (min(one, other), max(one, other)), 32)
    (low, high), (least, most) = state.signed(one, 32), state.signed(other, 32)
    corners = [mine * its for mine in (low, high) for its in (least, most)]
    if one == other and low < 0 < high:
        corners.append(0)
    ends = min(corners), max(corners)
    if one == other:
        ends = max(0, ends[0]), ends[1]
    _put(state, to, _ranged(state, value, placed(*ends, 32)))


# Bits.


def _ands(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    value = _anded(state, state.slots[to], state.slots[by])
    if ins.name == "tst":
        kept = state.slots[to]
        _put(state, to, value)
        state.slots[to] = kept
    else:
        _put(state, to, value)


def _anded(state: State, one: int, other: int) -> int:
    if one == other:
        return one
    if one < 0 and other < 0:
        return ~(~one & ~other)
    most = min(state.unsigned(one, 32)[1], state.unsigned(other, 32)[1])
    for number, mask in ((one, other), (other, one)):
        if mask < 0 and ~mask & (~mask + 1) == 0 and state.unsigned(number, 32)[1] <= ~mask:
            return number  # the mask takes nothing away
    return _ranged(state, state.values.node("and", (min(one, other), max(one, other)), 32), (0, most))


def _orrs(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    one, other = state.slots[to], state.slots[by]
    is_or = ins.name == "orrs"
    if one == other:
        value = one if is_or else ~0
    elif one < 0 and other < 0:
        value = ~(~one | ~other) if is_or else ~(~one ^ ~other)
    elif ~0 in (one, other):
        value = max(one, other)
    else:
        (low, high), (least, most) = state.unsigned(one, 32), state.unsigned(other, 32)
        ends = max(low, least) if is_or else 0, (1 << (high | most).bit_length()) - 1
        value = _ranged(state, state.values.node(ins.name, (min(one, other), max(one, other)), 32), ends)
    _put(state, to, value)


def _bics(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    one, other = state.slots[to], state.slots[by]
    if other < 0:
        value = _anded(state, one, ~(~~other & 0xFFFFFFFF))
    else:
        value = _ranged(state, state.values.node("bic", (one, other), 32), (0, state.unsigned(one, 32)[1]))
    _put(state, to, value)


def _mvns(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    low, high = state.reach(state.slots[by])
    value = state.values.node("not", (state.slots[by],), 32)
    _put(state, to, _ranged(state, value, placed(-1 - high, -1 - low, 32)))


def _shift(state: State, ins: Instruction) -> None:
    kind, form = ins.name.split(".")
    if form == "i":
        to, by, number = ins.operands
        _shifted(state, kind, to, (state.slots[by], number))
        return
    to, by = ins.operands
    amount = state.slots[by]
    if amount < 0 and 0 < ~amount & 0xFF <= 32:
        _shifted(state, kind, to, (state.slots[to], ~amount & 0xFF))
    else:
        _, high = state.unsigned(state.slots[to], 32)
        ends = (0, high) if kind == "lsrs" else full(32)
        _put(state, to, _ranged(state, _unknown(state), ends))
        state.slots[CARRY] = _unknown(state, 1)


def _shifted(state: State, kind: str, to: int, shifted: tuple[int, int]) -> None:
    one, number = shifted
    if not number:  # a move, the carry stays
        _put(state, to, one)
        return
    if kind == "lsls":
        value, out = _left(state, one, number), _bit(state, one, 32 - number)
    else:
        value, out = _right(state, kind, one, number), _bit(state, one, number - 1)
    _put(state, to, value)
    state.slots[CARRY] = out


def _left(state: State, one: int, number: int) -> int:
    value = state.values.node("left", (one, ~number), 32)
    low, high = state.reach(one)
    return _ranged(state, value, placed(low << number, high << number, 32))


def _right(state: State, kind: str, one: int, number: int) -> int:
    """To the right; what was moved to the left before, to be cut, is itself again where it fits."""
    values = state.values
    low, high = state.signed(one, 32) if kind == "asrs" else state.unsigned(one, 32)
    if values.op(one) == "left" and values.args(one)[1] == ~number:
        (before, _) = values.args(one)
        bits = 32 - number
        read = state.signed if kind == "asrs" else state.unsigned
        least, most = read(before, 32)
        floor, ceiling = (-(1 << bits - 1), (1 << bits - 1) - 1) if kind == "asrs" else (0, (1 << bits) - 1)
        if floor <= least and most <= ceiling:
            return before
    return _ranged(state, values.node(kind, (one, ~number), 32), (low >> number, high >> number))


def _bit(state: State, one: int, number: int) -> int:
    """One bit as a flag."""
    if one < 0:
        return ~(~one >> number & 1)
    if number == 31:
        return flag(state, LESS, one, ~0, 32)
    if state.unsigned(one, 32)[1] < 1 << number:
        return NO
    return state.values.node("bit", (one, ~number), 1)


def _rors(state: State, ins: Instruction) -> None:
    _put(state, ins.operands[0], _unknown(state))
    state.slots[CARRY] = _unknown(state, 1)


_EXTENDED: Final[Mapping[str, Range]] = {
    "sxth": (-32768, 32767),
    "sxtb": (-128, 127),
    "uxth": (0, 65535),
    "uxtb": (0, 255),
}


def extended(state: State, name: str, value: int) -> int:
    """A number cut to a half-word or a byte; itself where it fits."""
    low, high = _EXTENDED[name]
    read = state.unsigned if low == 0 else state.signed
    least, most = read(value, 32)
    if low <= least and most <= high:
        return value
    if state.values.op(value) in _EXTENDED:  # of the same width, the other way round
        (inner,) = state.values.args(value)
        if state.values.op(value)[-1] == name[-1]:
            return extended(state, name, inner)
    return _ranged(state, state.values.node(name, (value,), 32), (low, high))


def _extend(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = extended(state, ins.name, state.slots[by])


def _rev(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    one = state.slots[by]
    if ins.name == "rev" and one < 0:
        state.slots[to] = ~int.from_bytes((~one).to_bytes(4, "little"), "big")
    else:
        state.slots[to] = _unknown(state)


# Moves and memory.


def _movs(state: State, ins: Instruction) -> None:
    _put(state, ins.operands[0], ~ins.operands[1])


def _mov(state: State, ins: Instruction) -> None:
    to, by = ins.operands
    state.slots[to] = _unknown(state) if by == COUNTER else state.slots[by]
    if to == POINTER:
        stack_pointer(state, ins.address)


def _adr(state: State, ins: Instruction) -> None:
    state.slots[ins.operands[0]] = ~((ins.address + 4 & ~3) + ins.operands[1])


def _nothing(state: State, ins: Instruction) -> None:
    del state, ins


def _mrs(state: State, ins: Instruction) -> None:
    state.slots[ins.operands[0]] = _unknown(state)


def _msr(state: State, ins: Instruction) -> None:
    number, _ = ins.operands
    if number in (8, 9, 20):
        raise Refused(ins.address, "it changes the stack or the processor's mode")
    for at in (NEGATIVE, ZERO, CARRY, OVERFLOW):
        state.slots[at] = _unknown(state, 1)
    state.slots[COMPARED] = NO


_SIZES = {"ldr": 4, "str": 4, "ldrh": 2, "strh": 2, "ldrsh": 2, "ldrb": 1, "strb": 1, "ldrsb": 1}
_CUTS = {"ldrh": "uxth", "ldrb": "uxtb", "ldrsh": "sxth", "ldrsb": "sxtb", "strh": "uxth", "strb": "uxtb"}


def _address(state: State, ins: Instruction) -> Cell:
    form = ins.name.partition(".")[2]
    values = state.values
    if form == "s":
        base, offset = values.based(state.slots[POINTER])
        return base, (offset + ins.operands[1]) & 0xFFFFFFFF
    word = state.slots[ins.operands[1]]
    extra = ~ins.operands[2] if form == "i" else state.slots[ins.operands[2]]
    made = _sum(state, word, extra)
    base, offset = values.based(made)
    if not state.is_own(base):
        state.cycles += _waits(ins, state.unsigned(made, 32))
    return base, offset


def _waits(ins: Instruction, reach: Range) -> int:
    """Cycles that an address takes at most beyond the table's; where it may be any, no flash's."""
    low, high = reach
    found = [
        to_load if ins.name.startswith("l") else to_store
        for begin, end, to_load, to_store in BUSES
        if low < end and high >= begin
    ]
    if found:
        return max(found)
    raise Refused(ins.address, f"it asks {low:#x}, where it may have to wait for how long nobody says")


def _load(state: State, ins: Instruction) -> None:
    """What is in the cell; what is no object's may change by itself and is never remembered."""
    name = ins.name.partition(".")[0]
    value = load(state, _address(state, ins), _SIZES[name])
    state.slots[ins.operands[0]] = extended(state, _CUTS[name], value) if name in _CUTS else value


def load(state: State, at: Cell, size: int) -> int:
    """A cell's number without its sign."""
    base, offset = at
    cell = base, offset << 3 | size
    found = state.memory.get(cell)
    if found is None:
        found = _ranged(state, _unknown(state), full(8 * size))
        if state.is_own(base):
            state.memory[cell] = found
    return found


def store(state: State, at: Cell, size: int, value: int) -> None:
    """Write a cell, and forget what overlaps it."""
    base, offset = at
    for near in range(offset - 3, offset + 4):
        for wide in (1, 2, 4):
            if near < offset + size and offset < near + wide:
                state.memory.pop((base, near << 3 | wide), None)
    state.store((base, offset << 3 | size), value, offset)


def _store(state: State, ins: Instruction) -> None:
    name = ins.name.partition(".")[0]
    at = _address(state, ins)
    value = state.slots[ins.operands[0]]
    store(state, at, _SIZES[name], extended(state, _CUTS[name], value) if name in _CUTS else value)


def registers(mask: int) -> list[int]:
    """Numbers of the registers in a list, lowest first, as they lie in memory."""
    return [register for register in range(16) if mask >> register & 1]


def _many(state: State, ins: Instruction) -> tuple[int, Cell, list[int]]:
    """Of a load or store of many: the register of their address, the first cell, those that are listed."""
    register, mask = ins.operands
    base, offset = state.values.based(state.slots[register])
    listed = registers(mask)
    if not state.is_own(base):
        state.cycles += len(listed) * _waits(ins, state.unsigned(state.slots[register], 32))
    return register, (base, offset), listed


def _stm(state: State, ins: Instruction) -> None:
    register, (base, offset), listed = _many(state, ins)
    for at, number in enumerate(listed):
        store(state, (base, offset + 4 * at), 4, state.slots[number])
    state.slots[register] = _sum(state, state.slots[register], ~(4 * len(listed)))


def _ldm(state: State, ins: Instruction) -> None:
    register, (base, offset), listed = _many(state, ins)
    if register not in listed:
        state.slots[register] = _sum(state, state.slots[register], ~(4 * len(listed)))
    for at, number in enumerate(listed):
        state.slots[number] = load(state, (base, offset + 4 * at), 4)


def stack_pointer(state: State, address: int) -> Cell:
    """Where the stack pointer stands. Raises Refused where that is not known any more."""
    base, offset = state.values.based(state.slots[POINTER])
    if state.values.op(base) != STACK:
        raise Refused(address, LOST_STACK)
    return base, offset


def _push(state: State, ins: Instruction) -> None:
    listed = registers(ins.operands[0])
    base, offset = stack_pointer(state, ins.address)
    bottom = (offset - 4 * len(listed)) & 0xFFFFFFFF
    for at, number in enumerate(listed):
        store(state, (base, bottom + 4 * at), 4, state.slots[number])
        state.saved.add((base, bottom + 4 * at << 3 | 4))
    state.slots[POINTER] = state.values.at(base, bottom, 32)


def popped(state: State, ins: Instruction) -> list[int]:
    """What a pop takes from the stack, in the order of its registers."""
    listed = registers(ins.operands[0])
    base, offset = stack_pointer(state, ins.address)
    found = [load(state, (base, offset + 4 * at), 4) for at in range(len(listed))]
    state.slots[POINTER] = state.values.at(base, offset + 4 * len(listed), 32)
    return found


def _pop(state: State, ins: Instruction) -> None:
    for number, value in zip(registers(ins.operands[0]), popped(state, ins), strict=True):
        state.slots[number] = value


_STEPS: Final[Mapping[str, Callable[[State, Instruction], None]]] = {
    **dict.fromkeys(("lsls", "lsrs", "asrs"), _shift),
    "adds": _adds,
    "subs": _subs,
    "movs": _movs,
    "cmp": _cmp,
    "cmn": _cmn,
    **dict.fromkeys(("ands", "tst"), _ands),
    **dict.fromkeys(("orrs", "eors"), _orrs),
    **dict.fromkeys(("adcs", "sbcs"), _adcs),
    "rors": _rors,
    "rsbs": _rsbs,
    "muls": _muls,
    "bics": _bics,
    "mvns": _mvns,
    **dict.fromkeys(("add", "sub"), _add),
    "mov": _mov,
    **dict.fromkeys(("ldr", "ldrh", "ldrb", "ldrsh", "ldrsb"), _load),
    **dict.fromkeys(("str", "strh", "strb"), _store),
    "adr": _adr,
    **dict.fromkeys(("sxth", "sxtb", "uxth", "uxtb"), _extend),
    **dict.fromkeys(("rev", "rev16", "revsh"), _rev),
    "push": _push,
    "pop": _pop,
    "stm": _stm,
    "ldm": _ldm,
    "mrs": _mrs,
    "msr": _msr,
    **dict.fromkeys(("cps", "nop", "yield", "sev", "wfe", "wfi", "dsb", "dmb", "isb"), _nothing),
}


def step(state: State, ins: Instruction, code: Code) -> None:
    """Run one instruction that goes on with the next. Raises Refused where the stack is lost."""
    if ins.name == "ldr.l":  # a constant that the compiler keeps beside the code
        raw = code((ins.address + 4 & ~3) + ins.operands[1], 4)
        state.slots[ins.operands[0]] = ~int.from_bytes(raw, "little") if len(raw) == 4 else _unknown(state)
        return
    _STEPS[ins.name.partition(".")[0]](state, ins)


def condition(state: State, number: int) -> tuple[int, bool]:
    """The flag that a condition asks, and what it has to be."""
    slots = state.slots
    wanted = number % 2 == 0
    plain = {0: ZERO, 1: CARRY, 2: NEGATIVE, 3: OVERFLOW}.get(number >> 1)
    if plain is not None:
        return slots[plain], wanted
    if truth(state, slots[COMPARED]):
        one, other = slots[FIRST], slots[SECOND]
        kind = number >> 1
        asked = {4: (BELOW, other, one), 5: (LESS, one, other), 6: (LESS, other, one)}[kind]
        return flag(state, *asked, 32), wanted if kind != 5 else not wanted
    if slots[OVERFLOW] == NO and number >> 1 == 5:  # at least, or less: the sign alone
        return slots[NEGATIVE], not wanted
    return _unknown(state, 1), True
