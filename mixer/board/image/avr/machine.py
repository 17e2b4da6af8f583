"""The ATmega328P as `walk` asks for a machine: begin, step, branch, call and return."""

from collections.abc import Container
from dataclasses import replace

from mixer.board.image.avr.decode import decode
from mixer.board.image.avr.step import (
    CHAIN,
    SHAPE,
    SPH,
    SPL,
    STACK_LOWER,
    condition,
    pop,
    push,
    stack_pointer,
    step,
)
from mixer.board.image.avr.words import AvrState, high_of, low_of
from mixer.board.image.paths.compare import assume
from mixer.board.image.paths.instruction import Code, Flow, Instruction, Refused
from mixer.board.image.paths.intervals import Range
from mixer.board.image.paths.state import OBJECT, STACK
from mixer.board.image.paths.values import Values

_ARGUMENTS = (24, 22, 20, 18)
"""Where avr-gcc passes the first four words: here and in the next (its ABI, "Calling Convention")."""
_MOVE_THE_STACK = ("push", "call", "rcall")
_ZERO = 1
"""The register that avr-gcc keeps at 0."""


class Avr:
    """One analysis of an image for the ATmega328P: its code, and where its routines begin."""

    def __init__(
        self, code: Code, begins: Container[int], room: Range | None = None, sleeps: bool = False
    ) -> None:
        self.values = Values()
        del begins, sleeps  # a call is one whatever stands there; how long it sleeps is not followed
        self._code = code
        self._shape = SHAPE._replace(room=room)
        self._home = tuple(self.values.node("home", (~part,), 8) for part in range(2))
        """The address that the routine in question returns to."""

    def decode(self, address: int) -> Instruction:
        """The instruction there. Raises Refused where there is none.

        A call of the very next instruction is how the compiler makes room for two bytes on the stack.
        """
        ins = decode(self._code, address)
        return replace(ins, flow=Flow.JUMP) if (ins.flow, ins.target) == (Flow.CALL, ins.end) else ins

    def begin(self) -> AvrState:
        """Everything unknown, but for what the compiler promises: arguments, stack, the zero register."""
        values = self.values
        state = AvrState(values, [values.fresh(bits) for bits in SHAPE.slots], self._shape)
        for number, register in enumerate(_ARGUMENTS):
            word = values.node(OBJECT, (~number,), 16)
            state.slots[register : register + 2] = low_of(values, word), high_of(values, word)
        stack = values.node(STACK, (), 16)
        state.slots[SPL], state.slots[SPH] = low_of(values, stack), high_of(values, stack)
        state.slots[_ZERO] = ~0
        state.slots[CHAIN] = ~0
        for byte in self._home:
            push(state, 0, byte)
        return state

    def step(self, state: AvrState, ins: Instruction) -> None:
        """Run an instruction that goes on with the next, or somewhere known."""
        if ins.flow is Flow.NEXT:
            step(state, ins)
        elif ins.target == ins.end and ins.name in ("call", "rcall"):
            for _ in range(2):
                push(state, ins.address, self.values.fresh(8), is_room=True)

    def branch(self, state: AvrState, ins: Instruction, taken: bool) -> bool:
        """Go on where a branch is taken or is not. False where that cannot be."""
        value, wanted = condition(state, ins)
        return assume(state, value, wanted == taken)

    def call(self, state: AvrState, ins: Instruction) -> None:
        """Leave for a routine: the address behind the call goes to the stack."""
        push(state, ins.address, ~(ins.end >> 1 & 0xFF))
        push(state, ins.address, ~(ins.end >> 9))

    def leave(self, state: AvrState, ins: Instruction, home: int | None) -> None:
        """Return. Raises Refused where what lies on the stack is not where the call came from."""
        upper, lower = pop(state, ins.address), pop(state, ins.address)
        wanted = self._home[::-1] if home is None else (~(home >> 9), ~(home >> 1 & 0xFF))
        if (upper, lower) != tuple(wanted):
            raise Refused(ins.address, "it does not return to where it was called from")

    def depth(self, state: AvrState, ins: Instruction) -> int:
        """Bytes on the stack now, the return address of the routine in question included."""
        moves = ins.operands[1] == STACK_LOWER if ins.name == "out" else ins.name in _MOVE_THE_STACK
        return self.standing(state, ins.address) if moves else 0

    def standing(self, state: AvrState, address: int) -> int:
        """Bytes on the stack now. Raises Refused where that is not known."""
        _, offset = stack_pointer(state, address)
        return -offset & 0xFFFF
