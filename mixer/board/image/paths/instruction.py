"""One machine instruction, whatever the machine, and the one way to say that there is no bound."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import TypeAlias

Code: TypeAlias = Callable[[int, int], bytes]
"""Bytes of a program: from an address, so many, or fewer where it ends."""


WAITS = ("wfe", "wfi")
"""Names of instructions that wait for an interrupt."""


class Flow(Enum):
    """Where a program goes on after an instruction."""

    NEXT = auto()
    BRANCH = auto()
    """To the next one or to `target`, as the numbers say."""
    JUMP = auto()
    CALL = auto()
    RETURN = auto()
    UNKNOWN = auto()
    """Where a register says, or nowhere: what is not followed."""


@dataclass(frozen=True, slots=True)
class Instruction:
    """As decoded, with its time."""

    address: int
    size: int
    """Bytes."""
    name: str
    operands: tuple[int, ...]
    """Registers, constants and displacements, in the order in which they are written."""
    cycles: int
    """When the program goes on with the next, or leaves for good; of a call without what is called."""
    flow: Flow = Flow.NEXT
    target: int = -1
    """Address of a branch, jump or call."""
    taken: int = 0
    """Cycles when a branch is taken."""

    @property
    def end(self) -> int:
        """The address behind it."""
        return self.address + self.size


class Refused(Exception):  # noqa: N818  no error of the program: the one answer beside a bound
    """No bound can be shown: why, and at which address."""

    def __init__(self, address: int, why: str) -> None:
        super().__init__(why)
        self.address = address
        self.why = why
