"""How deep the stack goes, whatever the numbers are: for programs that wait for hardware, or never end.

Every block of every routine on the way is visited, branches both ways, once for each depth at which it is
reached: one routine's block has one depth, or there is no answer. Registers other than the stack's are
followed along the first way that comes, as compilers set a frame's address once in a routine.
"""

from dataclasses import dataclass, field
from typing import Generic, TypeVar

from mixer.board.image.paths.flow import Graph
from mixer.board.image.paths.instruction import Flow, Instruction, Refused
from mixer.board.image.paths.routines import Routines, not_followed
from mixer.board.image.paths.state import State
from mixer.board.image.paths.walk import Machine

S = TypeVar("S", bound=State)


@dataclass
class _Visit(Generic[S]):
    """One call of a routine."""

    graph: Graph
    home: int | None
    depths: dict[int, int] = field(default_factory=dict)
    """Of each block that was reached."""
    followed: set[int] = field(default_factory=set)
    returned: S | None = None


class Deepest(Generic[S]):
    """One analysis."""

    def __init__(self, machine: Machine[S]) -> None:
        self._machine = machine
        self._routines = Routines(machine.decode)
        self._most = 0

    def bytes_of(self, entry: int) -> int:
        """Of the routine at an address with all that it calls. Raises Refused where nobody can say."""
        state = self._machine.begin()
        self._most = self._machine.standing(state, entry)
        self._call(entry, state, None)
        return self._most

    def _call(self, entry: int, state: S, home: int | None) -> S | None:
        """The state with which it returns; None where it never does."""
        with self._routines.inside(entry) as graph:
            visit: _Visit[S] = _Visit(graph, home)
            waiting = [(entry, state)]
            while waiting:
                block, here = waiting.pop()
                waiting += self._follow(visit, block, here)
        return visit.returned

    def _follow(self, visit: _Visit[S], block: int, state: S) -> list[tuple[int, S]]:
        """Where a block leads, and what is known there."""
        depth = self._machine.standing(state, block)
        before = visit.depths.setdefault(block, depth)
        if before != depth:
            raise Refused(block, "the stack is not as deep there on one way as on another")
        if block in visit.followed:
            return []
        visit.followed.add(block)
        found = visit.graph.blocks[block]
        for ins in found.instructions:
            after = self._run(visit, ins, state)
            if after is None:
                return []
            state = after
        return [(target, state.copy()) for target in found.successors]

    def _run(self, visit: _Visit[S], ins: Instruction, state: S) -> S | None:
        """What is known after an instruction; None where this way ends."""
        machine = self._machine
        self._routines.count(ins, 1)
        if ins.flow in (Flow.NEXT, Flow.JUMP):
            machine.step(state, ins)
        elif ins.flow is Flow.CALL:
            machine.call(state, ins)
            self._most = max(self._most, machine.depth(state, ins))
            return self._call(ins.target, state, ins.end)
        elif ins.flow is Flow.RETURN:
            machine.leave(state, ins, visit.home)
            visit.returned = visit.returned or state
            return None
        elif ins.flow is Flow.UNKNOWN:
            raise not_followed(ins)
        self._most = max(self._most, machine.depth(state, ins))
        return state
