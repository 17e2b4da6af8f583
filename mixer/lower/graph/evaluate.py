"""The contracts of the operations, run: the slow, plain way to evaluate a graph.

One function a operation, written to be read against `CONTRACTS`; it takes Python ints and numpy arrays
alike. Tests hold the fast lowerings, and the core itself, against this one.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from mixer.core.ops import HALF
from mixer.lower.graph.nodes import Graph, Op


def _mul14(a: Any, b: Any) -> Any:  # noqa: ANN401 - ints and arrays alike
    product = a * b
    return (product + HALF + (product >> 31)) >> 14


MEANINGS: Mapping[Op, Callable[..., Any]] = MappingProxyType(
    {
        Op.ADD: lambda a, b: a + b,
        Op.SUB: lambda a, b: a - b,
        Op.NEG: lambda a: -a,
        Op.MULTIPLY: lambda a, b: a * b,
        Op.MUL14: _mul14,
        Op.DIVIDE: lambda a, b: a // b,
        Op.ABSOLUTE: lambda a: np.where(a < 0, -a, a),
        Op.MINIMUM: lambda a, b: np.where(a < b, a, b),
        Op.MAXIMUM: lambda a, b: np.where(a > b, a, b),
        Op.CLAMP: lambda a, b, c: np.where(a < b, b, np.where(a > c, c, a)),
        Op.SELECT: np.where,
        Op.LESS: lambda a, b: a < b,
        Op.LESS_EQUAL: lambda a, b: a <= b,
        Op.EQUAL: lambda a, b: a == b,
        Op.NOT_EQUAL: lambda a, b: a != b,
        Op.AND: lambda a, b: a & b,
        Op.OR: lambda a, b: a | b,
        Op.NOT: lambda a: a ^ True,
    }
)


def compute(op: Op, operands: Sequence[Any], value: int) -> Any:  # noqa: ANN401 - ints and arrays alike
    """One operation on numbers or arrays."""
    if op in (Op.CONST, Op.TRUTH):
        return value
    if op is Op.SHIFT_RIGHT:
        return operands[0] >> value
    return MEANINGS[op](*operands)


def evaluate_nodes(graph: Graph, inputs: Sequence[int], state: Sequence[int]) -> list[int]:
    """Every node's value for one tick."""
    values: list[Any] = []
    for node in graph.nodes:
        if node.op is Op.INPUT:
            values.append(inputs[node.value])
        elif node.op is Op.STATE:
            values.append(state[node.value])
        else:
            result = compute(node.op, [values[arg] for arg in node.args], node.value)
            values.append(result.item() if isinstance(result, np.generic | np.ndarray) else result)
    return values


def evaluate(graph: Graph, inputs: Sequence[int], state: Sequence[int]) -> tuple[list[int], list[int]]:
    """The graph's signals and next state for one tick."""
    values = evaluate_nodes(graph, inputs, state)
    return [values[index] for index in graph.signals.values()], [values[index] for index in graph.state]
