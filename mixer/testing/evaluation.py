"""A graph run node by node by its contracts: slow, plain, and what lowerings are held against."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from mixer.lower.graph.meanings import PLAIN, compute
from mixer.lower.graph.nodes import Graph, Op


def evaluate_nodes(graph: Graph, inputs: Sequence[int], state: Sequence[int]) -> list[int]:
    """Every node's value for one tick."""
    values: list[Any] = []
    for node in graph.nodes:
        if node.op is Op.INPUT:
            values.append(inputs[node.value])
        elif node.op is Op.STATE:
            values.append(state[node.value])
        else:
            result = compute(PLAIN, node.op, [values[arg] for arg in node.args], node.value)
            values.append(result.item() if isinstance(result, np.generic | np.ndarray) else result)
    return values


def evaluate(graph: Graph, inputs: Sequence[int], state: Sequence[int]) -> tuple[list[int], list[int]]:
    """The graph's signals and next state for one tick."""
    values = evaluate_nodes(graph, inputs, state)
    return [values[index] for index in graph.signals.values()], [values[index] for index in graph.state]
