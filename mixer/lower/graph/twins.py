"""Twin slots: parts of the state that hold the same number at every tick, so that one will do.

The front and the rear wheel of a side get the same commands from the same mix: their slews and pauses
start equal and take the same steps for ever. All slots with the same start value are taken for twins
first, and parted where a tick would make them differ, until no more part (the partition refinement by
which J. Hopcroft minimises automata, 1971). What is left are twins by induction over the ticks.
"""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.lower.graph.nodes import Node, Op


class Merged(NamedTuple):
    """A graph in which only one of each set of twins is read."""

    nodes: list[Node]
    moved: list[int]
    """Where each old node is now."""
    twins: list[int]
    """For each slot the one that is read in its place; most often itself."""


def merge_twins(nodes: Sequence[Node], start: Sequence[int], state: Sequence[int]) -> Merged:
    """Find twin slots and share everything that only differed by them."""
    twins = _representatives(list(start))
    while True:
        merged = _shared(nodes, twins)
        after = [merged.moved[node] for node in state]
        parted = _representatives(list(zip(twins, after, strict=True)))
        if parted == twins:
            return merged
        twins = parted


def _representatives(keys: Sequence[object]) -> list[int]:
    """For each place the first place with an equal key."""
    first: dict[object, int] = {}
    return [first.setdefault(key, place) for place, key in enumerate(keys)]


def _shared(nodes: Sequence[Node], twins: list[int]) -> Merged:
    """Equal operations as one node, a slot read as its twin."""
    known: dict[tuple[Op, tuple[int, ...], int], int] = {}
    kept: list[Node] = []
    moved: list[int] = []
    for node in nodes:
        args = tuple([moved[arg] for arg in node.args])
        value = twins[node.value] if node.op is Op.STATE else node.value
        index = known.setdefault((node.op, args, value), len(kept))
        if index == len(kept):
            kept.append(Node(node.op, args, value, node.place))
        moved.append(index)
    return Merged(kept, moved, twins)
