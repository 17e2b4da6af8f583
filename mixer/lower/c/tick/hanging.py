"""What hangs on one number alone, such as a stick's pulse: known for each value that it can have."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.lower.graph.nodes import Graph, Node, Op

Numbers = NDArray[np.int64]
_WORK = (Op.MUL14, Op.MULTIPLY)


@dataclass(frozen=True)
class Hanging:
    """The nodes that hang on one number alone, with what each comes to for each of its values."""

    root: int
    values: dict[int, Numbers]
    work: set[int]
    """Those that multiply on the way."""
    ends: set[int]
    """Those that others use."""


def hanging_on(graph: Graph, root: int) -> Hanging:
    """What hangs on a node of few values."""
    reach = graph.ranges[root]
    values: dict[int, Numbers] = {root: np.arange(reach.low, reach.high + 1, dtype=np.int64)}
    work: set[int] = set()
    for index in range(root + 1, len(graph.nodes)):
        node = graph.nodes[index]
        hangs = [arg for arg in node.args if arg in values]
        if not hangs or not all(arg in values or graph.nodes[arg].op is Op.CONST for arg in node.args):
            continue
        args = [values[arg] if arg in values else np.int64(graph.nodes[arg].value) for arg in node.args]
        values[index] = _come_to(node, args)
        if node.op in _WORK or any(arg in work for arg in hangs):
            work.add(index)
    told = {*graph.state, *graph.signals.values()}
    ends = {index for index in values if index in told}
    for index, node in enumerate(graph.nodes):
        if index not in values:
            ends |= {arg for arg in node.args if arg in values}
    return Hanging(root, values, work, ends - {root})


def _come_to(node: Node, args: Sequence[Numbers | np.int64]) -> Numbers:
    """A node of arrays, by its contract."""
    a = args[0]
    b = args[1] if len(args) > 1 else a
    c = args[2] if len(args) > 2 else a
    made: Mapping[Op, Callable[[], object]] = {
        Op.ADD: lambda: a + b,
        Op.SUB: lambda: a - b,
        Op.NEG: lambda: -a,
        Op.MULTIPLY: lambda: a * b,
        Op.MUL14: lambda: (a * b + 8192 + ((a * b) >> 31)) >> 14,
        Op.SHIFT_RIGHT: lambda: a >> node.value,
        Op.DIVIDE: lambda: a // np.maximum(b, 1),
        Op.ABSOLUTE: lambda: np.abs(a),
        Op.MINIMUM: lambda: np.minimum(a, b),
        Op.MAXIMUM: lambda: np.maximum(a, b),
        Op.CLAMP: lambda: np.clip(a, b, c),
        Op.SELECT: lambda: np.where(a != 0, b, c),
        Op.LESS: lambda: a < b,
        Op.LESS_EQUAL: lambda: a <= b,
        Op.EQUAL: lambda: a == b,
        Op.NOT_EQUAL: lambda: a != b,
        Op.AND: lambda: (a != 0) & (b != 0),
        Op.OR: lambda: (a != 0) | (b != 0),
        Op.NOT: lambda: a == 0,
    }
    return np.asarray(made[node.op](), np.int64)
