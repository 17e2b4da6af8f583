"""What hangs on one number alone, such as a stick's pulse: known for each value that it can have."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.lower.graph.meanings import PLAIN, compute
from mixer.lower.graph.nodes import Graph, Op

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
    """Those that something needs which does not hang on that number alone."""


def hanging_on(graph: Graph, root: int, roots: Collection[int]) -> Hanging:
    """What hangs on a node of few values, where `roots` are all that is needed of the graph in the end."""
    reach = graph.ranges[root]
    values: dict[int, Numbers] = {root: np.arange(reach.low, reach.high + 1, dtype=np.int64)}
    work: set[int] = set()
    for index in range(root + 1, len(graph.nodes)):
        node = graph.nodes[index]
        hangs = [arg for arg in node.args if arg in values]
        if not hangs or not all(arg in values or graph.nodes[arg].op is Op.CONST for arg in node.args):
            continue
        args = [values[arg] if arg in values else np.int64(graph.nodes[arg].value) for arg in node.args]
        values[index] = np.asarray(compute(PLAIN, node.op, args, node.value), np.int64)
        if node.op in _WORK or any(arg in work for arg in hangs):
            work.add(index)
    ends = {index for index in roots if index in values}
    for index in graph.needed(roots):
        if index not in values:
            ends.update(arg for arg in graph.nodes[index].args if arg in values)
    return Hanging(root, values, work, ends - {root})
