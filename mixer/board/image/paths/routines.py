"""The routines that an analysis goes through: each drawn once, none inside itself; its steps counted."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from mixer.board.image.paths.flow import Graph, graph_of
from mixer.board.image.paths.instruction import Instruction, Refused

MOST_STEPS = 3_000_000
"""Instructions run in one analysis."""


class Routines:
    """Of one analysis."""

    def __init__(self, decode: Callable[[int], Instruction]) -> None:
        self._decode = decode
        self._graphs: dict[int, Graph] = {}
        self._inside: list[int] = []
        self._steps = 0

    @contextmanager
    def inside(self, entry: int) -> Iterator[Graph]:
        """The routine that begins at an address, as long as it is followed.

        Raises Refused where it is being followed already, or its bytes are no instructions.
        """
        if entry in self._inside:
            raise Refused(entry, "it calls itself, directly or through others, with no bound on how often")
        if entry not in self._graphs:
            self._graphs[entry] = graph_of(self._decode, entry)
        self._inside.append(entry)
        yield self._graphs[entry]
        self._inside.pop()

    def count(self, ins: Instruction, steps: int) -> None:
        """So many steps more, at an instruction. Raises Refused where there were too many."""
        self._steps += steps
        if self._steps > MOST_STEPS:
            raise Refused(ins.address, f"more than {MOST_STEPS:,} steps, and no end of it")


def not_followed(ins: Instruction) -> Refused:
    """What is said of an instruction that leads nobody knows where."""
    return Refused(ins.address, f"where `{ins.name}` leads is not followed")
