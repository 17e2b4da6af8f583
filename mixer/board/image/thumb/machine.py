"""The Cortex-M0+ as `walk` asks for a machine: begin, step, branch, call and return."""

from collections.abc import Container
from dataclasses import replace

from mixer.board.image.paths.compare import assume
from mixer.board.image.paths.instruction import WAITS, Code, Flow, Instruction, Refused
from mixer.board.image.paths.intervals import Range
from mixer.board.image.paths.state import OBJECT, STACK, State
from mixer.board.image.paths.values import Values
from mixer.board.image.thumb.decode import LINK, decode
from mixer.board.image.thumb.step import (
    POINTER,
    SHAPE,
    condition,
    popped,
    registers,
    stack_pointer,
    step,
)
from mixer.board.image.thumb.timing import SRAM

_MOVE_THE_STACK = ("push", "sub.sp", "add.r", "mov.r")


class Thumb:
    """One analysis of an image for the Cortex-M0+: its code, and where its routines begin."""

    def __init__(
        self, code: Code, begins: Container[int], room: Range | None = None, sleeps: bool = False
    ) -> None:
        """With `sleeps` waiting for an event takes no longer than waking does."""
        self.values = Values()
        self._code = code
        self._sleeps = sleeps
        self._shape = SHAPE._replace(room=room)
        self._begins = begins
        self._home = self.values.node("home", (), 32)
        """The address that the routine in question returns to."""

    def decode(self, address: int) -> Instruction:
        """The instruction there. Raises Refused where there is none.

        A call to where no routine begins is how the compiler jumps further than a branch reaches.
        """
        if not SRAM[0] <= address < SRAM[1]:
            raise Refused(address, "it runs from flash, where it may have to wait, not from SRAM")
        ins = decode(self._code, address)
        if ins.name in WAITS and self._sleeps:
            return replace(ins, flow=Flow.NEXT)
        if ins.flow is Flow.CALL and ins.target not in self._begins:
            return replace(ins, flow=Flow.JUMP)
        return ins

    def begin(self) -> State:
        """Everything unknown, but for what the procedure call standard promises: arguments, stack, link."""
        values = self.values
        state = State(values, [values.fresh(bits) for bits in SHAPE.slots], self._shape)
        for number in range(4):
            state.slots[number] = values.node(OBJECT, (~number,), 32)
        state.slots[POINTER] = values.node(STACK, (), 32)
        state.slots[LINK] = self._home
        return state

    def step(self, state: State, ins: Instruction) -> None:
        """Run an instruction that goes on with the next, or somewhere known."""
        if ins.name == "bl":
            self.call(state, ins)
        elif ins.flow is Flow.NEXT:
            step(state, ins, self._code)

    def branch(self, state: State, ins: Instruction, taken: bool) -> bool:
        """Go on where a branch is taken or is not. False where that cannot be."""
        value, wanted = condition(state, ins.operands[0])
        return assume(state, value, wanted == taken)

    def call(self, state: State, ins: Instruction) -> None:
        """Leave for a routine: the address behind the call goes to the link register."""
        state.slots[LINK] = ~(ins.end | 1)

    def leave(self, state: State, ins: Instruction, home: int | None) -> None:
        """Return. Raises Refused where it would lead elsewhere than behind the call."""
        if ins.name == "bx":
            to = state.slots[ins.operands[0]]
        else:
            *others, to = popped(state, ins)
            for register, value in zip(registers(ins.operands[0]), others, strict=False):
                state.slots[register] = value
        if to != (self._home if home is None else ~(home | 1)):
            raise Refused(ins.address, "it does not return to where it was called from")

    def depth(self, state: State, ins: Instruction) -> int:
        """Bytes on the stack now."""
        return self.standing(state, ins.address) if ins.name in _MOVE_THE_STACK else 0

    def standing(self, state: State, address: int) -> int:
        """Bytes on the stack now. Raises Refused where that is not known."""
        _, offset = stack_pointer(state, address)
        return -offset & 0xFFFFFFFF
