"""Symbols: what `core.tick.tick` is called with to be traced instead of run.

A symbol stands for a node of a graph in the making. An operation whose outcome is already certain gives
a plain int or bool, so that the core's constant parts run as ordinary Python. A symbol that is asked for
its truth, or for anything else that only a number has, raises InternalError with the line that asked.
"""

import sys
from functools import cache
from pathlib import Path

from mixer.errors import InternalError
from mixer.lower.graph.builder import Builder
from mixer.lower.graph.nodes import Kind, Op

_HERE = __name__.rpartition(".")[0]
_OPERATIONS = "mixer.core.ops"


def calling_place(*, skip_operations: bool) -> str:
    """File, line and function outside this package that is running: ``drive.py:47 slew``."""
    frame = sys._getframe(1)  # noqa: SLF001 - the one way to know who called
    while frame.f_back is not None:
        module = frame.f_globals.get("__name__", "")
        if not module.startswith(_HERE) and not (skip_operations and module == _OPERATIONS):
            break
        frame = frame.f_back
    code = frame.f_code
    return f"{_file_name(code.co_filename)}:{frame.f_lineno} {code.co_name}"


@cache
def _file_name(path: str) -> str:
    return Path(path).name


class Symbol:
    """A number or flag that is not known while the core is traced."""

    __slots__ = ("builder", "index")

    def __init__(self, builder: Builder, index: int) -> None:
        self.builder = builder
        self.index = index

    def __add__(self, other: object) -> object:
        return self._make(Op.ADD, self, other)

    def __radd__(self, other: object) -> object:
        return self._make(Op.ADD, other, self)

    def __sub__(self, other: object) -> object:
        return self._make(Op.SUB, self, other)

    def __rsub__(self, other: object) -> object:
        return self._make(Op.SUB, other, self)

    def __mul__(self, other: object) -> object:
        return self._make(Op.MULTIPLY, self, other)

    __rmul__ = __mul__

    def __neg__(self) -> object:
        return self._make(Op.NEG, self)

    def __lt__(self, other: object) -> object:
        return self._make(Op.LESS, self, other)

    def __le__(self, other: object) -> object:
        return self._make(Op.LESS_EQUAL, self, other)

    def __gt__(self, other: object) -> object:
        return self._make(Op.LESS, other, self)

    def __ge__(self, other: object) -> object:
        return self._make(Op.LESS_EQUAL, other, self)

    def __eq__(self, other: object) -> object:  # type: ignore[override]
        return self._make(Op.EQUAL, self, other)

    def __ne__(self, other: object) -> object:  # type: ignore[override]
        return self._make(Op.NOT_EQUAL, self, other)

    def __and__(self, other: object) -> object:
        return self._make(Op.AND, self, other)

    __rand__ = __and__

    def __or__(self, other: object) -> object:
        return self._make(Op.OR, self, other)

    __ror__ = __or__

    def __xor__(self, other: object) -> object:
        if other is True:
            return self._make(Op.NOT, self)
        if other is False:
            return self
        raise InternalError(f"{calling_place(skip_operations=True)} uses ^ between two unknown flags")

    __rxor__ = __xor__

    def choose(self, if_true: object, if_false: object) -> object:
        """`core.ops.select` with this flag as its condition."""
        return self._make(Op.SELECT, self, if_true, if_false)

    def shifted_right(self, bits: int) -> object:
        """`core.ops.shift_right` of this number."""
        return self._make(Op.SHIFT_RIGHT, self, value=bits)

    def divided(self, a: object, b: object) -> object:
        """`core.ops.divide`, where at least one of both is a symbol."""
        return self._make(Op.DIVIDE, a, b)

    def __bool__(self) -> bool:
        raise self._refusal("the truth")

    def __int__(self) -> int:
        raise self._refusal("the number")

    def __index__(self) -> int:
        raise self._refusal("the number, as an index,")

    def __hash__(self) -> int:
        raise self._refusal("the hash")

    def _refusal(self, what: str) -> InternalError:
        place = calling_place(skip_operations=False)
        node = self.builder.nodes[self.index]
        where = f" made at {node.place}" if node.place else ""
        return InternalError(
            f"{place} asks for {what} of a value{where} that is only known at run time",
            "Use select, minimum, maximum or clamp of mixer.core.ops instead of a branch on data.",
        )

    def _make(self, op: Op, *operands: object, value: int = 0) -> object:
        builder = self.builder
        args = tuple(_operand(builder, operand) for operand in operands)
        return unwrapped(builder, builder.make(op, args, value, calling_place(skip_operations=True)))


def unwrapped(builder: Builder, index: int) -> object:
    """The plain int or bool where the node is a constant, else a symbol for it."""
    known = builder.value(index)
    if known is None:
        return Symbol(builder, index)
    return known if builder.nodes[index].kind is Kind.NUMBER else known == 1


def _operand(builder: Builder, operand: object) -> int:
    if isinstance(operand, Symbol):
        return operand.index
    if isinstance(operand, bool):
        return builder.truth(operand)
    if isinstance(operand, int):
        return builder.const(int(operand))
    raise InternalError(f"{calling_place(skip_operations=True)} uses {operand!r} where a number is needed")


def node_of(builder: Builder, value: object) -> int:
    """The node of what the core gave back: a symbol's own, or a number's constant."""
    if isinstance(value, bool) or not isinstance(value, int | Symbol):
        raise InternalError(f"The core gave back {value!r} where a number is needed")
    return _operand(builder, value)
