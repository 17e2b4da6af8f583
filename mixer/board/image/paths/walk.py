"""A routine run on ranges instead of numbers: every path they allow, the longest kept where paths meet.

Whatever the machine, a branch goes both ways unless the ranges exclude one; where two paths meet, one state
stands for both, with the larger count of cycles. Routines that are called are followed with what is known
at the call. A loop is run round by round, until its ranges say that no path stays in it: that derives its
bound, and what never comes to an end is refused. So no path of the program is left out, and its cycles are
at most those counted here.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar

from mixer.board.image.paths.flow import Block, Graph, Loop, Step
from mixer.board.image.paths.instruction import WAITS, Flow, Instruction, Refused
from mixer.board.image.paths.routines import Routines, not_followed
from mixer.board.image.paths.state import State, fewest

MOST_ROUNDS = 2_000
"""Of one loop each time it is entered: what goes on longer is refused as if it never ended, as is at once
what begins a round as it began the one before."""
MOST_APART = 16
"""States kept apart at one place of a routine that is called: the library's division has paths whose
counters differ. In the routine in question more than one told nothing more, on every example robot."""

S = TypeVar("S", bound=State)


class Machine(Protocol[S]):
    """What `walk` needs to know of a processor."""

    def decode(self, address: int) -> Instruction:
        """The instruction there. Raises Refused where there is none."""

    def begin(self) -> S:
        """What is known when the routine is called."""

    def step(self, state: S, ins: Instruction) -> None:
        """Run an instruction that goes on with the next, or somewhere known."""

    def branch(self, state: S, ins: Instruction, taken: bool) -> bool:
        """Go on where a branch is taken or is not. False where that cannot be."""

    def call(self, state: S, ins: Instruction) -> None:
        """Leave for a routine."""

    def leave(self, state: S, ins: Instruction, home: int | None) -> None:
        """Return to an address, None for the caller of the whole. Raises Refused where it would not."""

    def depth(self, state: S, ins: Instruction) -> int:
        """Bytes on the stack now, where the instruction has moved it; else 0."""

    def standing(self, state: S, address: int) -> int:
        """Bytes on the stack now. Raises Refused, for the address, where that is not known."""


@dataclass
class _Frame(Generic[S]):
    graph: Graph
    home: int | None
    pending: dict[int, list[S]] = field(default_factory=dict)
    returned: list[S] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Longest:
    """What no path of the routine goes beyond."""

    cycles: int
    stack: int
    """Bytes, the routine's own return address included."""
    rounds: dict[int, int]
    """Address of each loop's first instruction, and the most rounds that were derived for it."""
    left: dict[int, int]
    """Address of each routine that is called, and the most cycles after which a call of it has returned."""
    sleeps: bool
    """Whether it waits somewhere for an interrupt."""


class Walk(Generic[S]):
    """One analysis."""

    def __init__(
        self, machine: Machine[S], without: frozenset[int] = frozenset(), apart: int = MOST_APART
    ) -> None:
        """Paths that call one of the routines `without` are left out."""
        self._machine = machine
        self._routines = Routines(machine.decode)
        self._without = without
        self._apart = apart
        self._sleeps = False
        self._left: dict[int, int] = {}
        self._deepest = 0
        self._rounds: dict[int, int] = {}

    def longest(self, entry: int) -> Longest:
        """Follow the routine at an address. Raises Refused where something in it has no bound."""
        start = self._machine.begin()
        self._deepest = self._machine.depth(start, self._machine.decode(entry))
        ended = self._routine(entry, [start], None)
        if not ended:
            raise Refused(entry, "it never returns")
        most = max(state.cycles for state in ended)
        return Longest(most, self._deepest, self._rounds, self._left, self._sleeps)

    def _routine(self, entry: int, states: list[S], home: int | None) -> list[S]:
        with self._routines.inside(entry) as graph:
            frame: _Frame[S] = _Frame(graph, home, {entry: states})
            self._follow(frame, graph.order)
        return frame.returned

    def _follow(self, frame: _Frame[S], order: Sequence[Step]) -> None:
        for step in order:
            if isinstance(step, Loop):
                self._loop(frame, step)
            elif step in frame.pending:
                self._block(frame, frame.graph.blocks[step], frame.pending.pop(step))

    def _loop(self, frame: _Frame[S], loop: Loop) -> None:
        rounds = 0
        before: list[list[object]] = []
        while not loop.blocks.isdisjoint(frame.pending):
            rounds += 1
            now = [state.ranges() for state in frame.pending.get(loop.header, ())]
            if rounds > MOST_ROUNDS or (rounds > 2 and now == before):
                raise Refused(loop.header, "a loop that nothing is seen to end")
            before = now
            self._follow(frame, (loop.header, *loop.body))
        if rounds:
            self._rounds[loop.header] = max(rounds, self._rounds.get(loop.header, 0))

    def _block(self, frame: _Frame[S], block: Block, states: list[S]) -> None:
        here = fewest(states, 1 if frame.home is None else self._apart)
        for ins in block.instructions:
            self._routines.count(ins, len(here))
            here = self._run(frame, ins, here)
        last = block.instructions[-1]
        if here and last.flow in (Flow.NEXT, Flow.CALL, Flow.JUMP):
            frame.pending.setdefault(block.successors[0], []).extend(here)

    def _run(self, frame: _Frame[S], ins: Instruction, states: list[S]) -> list[S]:
        machine = self._machine
        self._sleeps |= ins.name in WAITS
        for state in states:
            if ins.flow is not Flow.BRANCH:
                state.cycles += ins.cycles
            if ins.flow in (Flow.NEXT, Flow.JUMP):
                machine.step(state, ins)
                self._deepest = max(self._deepest, machine.depth(state, ins))
            elif ins.flow is Flow.BRANCH:
                self._branch(frame, ins, state)
            elif ins.flow is Flow.CALL:
                machine.call(state, ins)
                self._deepest = max(self._deepest, machine.depth(state, ins))
            elif ins.flow is Flow.RETURN:
                machine.leave(state, ins, frame.home)
                frame.returned.append(state)
            elif ins.flow is Flow.UNKNOWN:
                raise not_followed(ins)
        return self._called(ins, states) if ins.flow is Flow.CALL else states

    def _called(self, ins: Instruction, states: list[S]) -> list[S]:
        if ins.target in self._without or not states:
            return []
        ended = self._routine(ins.target, fewest(states, 1), ins.end)
        for state in ended:
            self._left[ins.target] = max(state.cycles, self._left.get(ins.target, 0))
        return ended

    def _branch(self, frame: _Frame[S], ins: Instruction, state: S) -> None:
        for taken in (False, True):
            way = state.copy()
            if self._machine.branch(way, ins, taken):
                way.cycles += ins.taken if taken else ins.cycles
                frame.pending.setdefault(ins.target if taken else ins.end, []).append(way)
