"""A graph as a sequence of numpy calls on rows, before it is bound to arrays.

A row is one value for every lane. Each node writes one row; rows are given back after the last node that
reads them (liveness), so that some thirty do for hundreds of nodes and stay in the cache. A node that is
a chosen signal, or the next value of a slot nobody reads any more, writes straight to its final place.

Selections are the expensive operation in numpy, so those with a constant arm get cheaper forms: a flag
times a number. The others overwrite one arm in place where it is not needed any more.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Any, NamedTuple

import numpy as np

from mixer.core.ops import HALF
from mixer.lower.graph.nodes import Graph, Kind, Node, Op


class Place(Enum):
    """Where a row lives."""

    NUMBER = "a scratch row of int32"
    FLAG = "a scratch row of bool"
    INPUT = "an input"
    STATE = "a state slot"
    SIGNAL = "a chosen signal"
    SCALAR = "one number for all lanes"
    FILLED = "a row full of one number"


class Row(NamedTuple):
    """A row by name: its place and its number there (the value itself for SCALAR and FILLED)."""

    place: Place
    number: int


class Step(NamedTuple):
    """One call: `function(*rows)`."""

    function: Callable[..., Any]
    rows: tuple[Row, ...]


@dataclass
class Program:
    """The steps of a tick and how many scratch rows they need."""

    steps: list[Step] = field(default_factory=list)
    numbers: int = 0
    flags: int = 0


_SIMPLE: dict[Op, Callable[..., Any]] = {
    Op.ADD: np.add,
    Op.SUB: np.subtract,
    Op.NEG: np.negative,
    Op.MULTIPLY: np.multiply,
    Op.DIVIDE: np.floor_divide,
    Op.ABSOLUTE: np.absolute,
    Op.MINIMUM: np.minimum,
    Op.MAXIMUM: np.maximum,
    Op.LESS: np.less,
    Op.LESS_EQUAL: np.less_equal,
    Op.EQUAL: np.equal,
    Op.NOT_EQUAL: np.not_equal,
    Op.AND: np.logical_and,
    Op.OR: np.logical_or,
    Op.NOT: np.logical_not,
}
_FILLED = frozenset({Op.MINIMUM, Op.MAXIMUM, Op.CLAMP})  # twice as fast on a row as on a scalar


def program_of(graph: Graph) -> Program:
    """Steps that compute the graph's signals and next state."""
    return _Planner(graph).planned()


class _Planner:
    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.program = Program()
        self.free: dict[Place, list[Row]] = {Place.NUMBER: [], Place.FLAG: []}
        self.rows: dict[int, Row] = {}
        self.last = _last_reads(graph)
        self.read_until = {
            node.value: self.last[index] for index, node in enumerate(graph.nodes) if node.op is Op.STATE
        }
        self.slots: dict[int, list[int]] = {}
        for slot, index in enumerate(graph.state):
            if graph.twins[slot] == slot:
                self.slots.setdefault(index, []).append(slot)
        self.signals: dict[int, list[int]] = {}
        for number, index in enumerate(graph.signals.values()):
            self.signals.setdefault(index, []).append(number)

    def planned(self) -> Program:
        for index, node in enumerate(self.graph.nodes):
            if node.op is Op.CONST:
                self.rows[index] = Row(Place.SCALAR, node.value)
            elif node.op is Op.INPUT:
                self.rows[index] = Row(Place.INPUT, node.value)
            elif node.op is Op.STATE:
                self.rows[index] = Row(Place.STATE, node.value)
            else:
                self._node(index, node)
        self._finish()
        return self.program

    def _node(self, index: int, node: Node) -> None:
        operands = [self._operand(node.op, arg) for arg in node.args]
        if node.op is Op.SELECT:
            self._select(index, node.args, operands)
        elif node.op is Op.MUL14:
            self._mul14(index, node.args, operands)
        elif node.op is Op.CLAMP:
            row = self._output(index, (node.args[0],))
            self._step(np.minimum, operands[0], operands[2], row)
            self._step(np.maximum, row, operands[1], row)
        elif node.op is Op.SHIFT_RIGHT:
            row = self._output(index, node.args)
            self._step(np.right_shift, operands[0], Row(Place.SCALAR, node.value), row)
        else:
            self._step(_SIMPLE[node.op], *operands, self._output(index, node.args))
        self._release(index, node.args)

    def _operand(self, op: Op, arg: int) -> Row:
        row = self.rows[arg]
        filled = row.place is Place.SCALAR and op in _FILLED
        return Row(Place.FILLED, row.number) if filled else row

    def _mul14(self, index: int, args: Sequence[int], operands: Sequence[Row]) -> None:
        row, sign = self._output(index, args), self._take(Place.NUMBER)
        self._step(np.multiply, *operands, row)
        self._step(np.right_shift, row, Row(Place.SCALAR, 31), sign)
        self._step(np.add, row, sign, row)
        self._step(np.add, row, Row(Place.SCALAR, HALF), row)
        self._step(np.right_shift, row, Row(Place.SCALAR, 14), row)
        self.free[Place.NUMBER].append(sign)

    def _select(self, index: int, args: Sequence[int], operands: Sequence[Row]) -> None:
        flag, a, b = operands
        number_a, number_b = (row.number if row.place is Place.SCALAR else None for row in (a, b))
        if number_b == 0:
            self._times(index, args, flag, a)
        elif number_a == 0:
            opposite = self._take(Place.FLAG)
            self._step(np.logical_not, flag, opposite)
            self._times(index, args, opposite, b)
            self.free[Place.FLAG].append(opposite)
        elif number_a is not None and number_b is not None:
            row = self._output(index, ())
            self._step(np.multiply, flag, Row(Place.SCALAR, number_a - number_b), row)
            self._step(np.add, row, Row(Place.SCALAR, number_b), row)
        else:
            self._overwrite(index, args, operands)

    def _times(self, index: int, args: Sequence[int], flag: Row, number: Row) -> None:
        if number == Row(Place.SCALAR, 1):
            self._step(_copy, flag, self._output(index, ()))
        else:
            self._step(np.multiply, flag, number, self._output(index, args[1:]))

    def _overwrite(self, index: int, args: Sequence[int], operands: Sequence[Row]) -> None:
        flag, a, b = operands
        if self._dies(index, args[1]) and not self._dies(index, args[2]):
            opposite = self._take(Place.FLAG)
            self._step(np.logical_not, flag, opposite)
            self.free[Place.FLAG].append(opposite)
            flag, a, b = opposite, b, a
        row = self._output(index, (args[1] if b == self.rows[args[1]] else args[2],))
        if row != b:
            self._step(_copy, b, row)
        if a.place is Place.SCALAR:  # five times as fast from a row
            a = Row(Place.FILLED, a.number)
        self._step(_overwrite, row, flag, a)

    def _output(self, index: int, reusable: Sequence[int]) -> Row:
        """A row to write to: the node's final place, an operand's row that ends here, or a new one.

        `reusable` are operands that are read in the same call that first writes the row.
        """
        row = self._final(index)
        if row is None:
            kind = Place.FLAG if self.graph.nodes[index].kind is Kind.FLAG else Place.NUMBER
            ending = [arg for arg in reusable if self._dies(index, arg) and self.rows[arg].place is kind]
            row = self.rows.pop(ending[0]) if ending else self._take(kind)
        self.rows[index] = row
        return row

    def _final(self, index: int) -> Row | None:
        if index in self.signals:
            return Row(Place.SIGNAL, self.signals[index][0])
        for slot in self.slots.get(index, ()):
            if self.read_until.get(slot, -1) < index:
                return Row(Place.STATE, slot)
        return None

    def _dies(self, index: int, arg: int) -> bool:
        row = self.rows.get(arg)
        return row is not None and row.place in self.free and self.last[arg] == index

    def _release(self, index: int, args: Sequence[int]) -> None:
        for arg in set(args):
            if self._dies(index, arg):
                row = self.rows.pop(arg)
                self.free[row.place].append(row)

    def _take(self, place: Place) -> Row:
        if self.free[place]:
            return self.free[place].pop()
        if place is Place.FLAG:
            self.program.flags += 1
            return Row(place, self.program.flags - 1)
        self.program.numbers += 1
        return Row(place, self.program.numbers - 1)

    def _step(self, function: Callable[..., Any], *rows: Row) -> None:
        self.program.steps.append(Step(function, rows))

    def _finish(self) -> None:
        """Copy what is needed in several places; signals first, they may show old state."""
        for index, numbers in self.signals.items():
            for number in numbers:
                self._copy_to(index, Row(Place.SIGNAL, number))
        for index, slots in self.slots.items():
            if self.rows[index].place is Place.STATE and slots != [self.rows[index].number]:
                kept = self._take(Place.NUMBER)  # another slot's old value, before that is written
                self._step(_copy, self.rows[index], kept)
                self.rows[index] = kept
        for index, slots in self.slots.items():
            for slot in slots:
                self._copy_to(index, Row(Place.STATE, slot))

    def _copy_to(self, index: int, row: Row) -> None:
        if self.rows[index] != row:
            self._step(_copy, self.rows[index], row)


def _last_reads(graph: Graph) -> dict[int, int]:
    """For each node the last node that reads it; roots are read at the end."""
    last = {index: index for index in range(len(graph.nodes))}
    for index, node in enumerate(graph.nodes):
        last.update(dict.fromkeys(node.args, index))
    last.update(dict.fromkeys((*graph.signals.values(), *graph.state), len(graph.nodes)))
    return last


def _copy(source: Any, row: Any) -> None:  # noqa: ANN401 - an array or a scalar
    np.copyto(row, source)


def _overwrite(row: Any, flag: Any, number: Any) -> None:  # noqa: ANN401 - arrays or a scalar
    np.putmask(row, flag, number)
