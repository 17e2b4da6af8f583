"""How control flows within one routine: blocks, and the order in which to follow them, loops nested."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from mixer.board.image.paths.instruction import Flow, Instruction, Refused

MOST_INSTRUCTIONS = 50_000
"""Of one routine."""


@dataclass(frozen=True, slots=True)
class Block:
    """Instructions that follow each other, whatever the numbers are."""

    instructions: tuple[Instruction, ...]
    successors: tuple[int, ...]
    """Where it goes on; of a branch first the next one, then its target."""


@dataclass(frozen=True, slots=True)
class Loop:
    """Blocks that lead back to their first."""

    header: int
    blocks: frozenset[int]
    body: tuple["Step", ...]
    """All but the header, in order."""


Step: TypeAlias = int | Loop


@dataclass(frozen=True, slots=True)
class Graph:
    """One routine."""

    entry: int
    blocks: Mapping[int, Block]
    order: tuple[Step, ...]


def graph_of(decode: Callable[[int], Instruction], entry: int) -> Graph:
    """The routine that begins at an address. Raises Refused where its bytes are no instructions."""
    found = _reached(decode, entry)
    blocks = _blocks(found, entry)
    edges = {address: block.successors for address, block in blocks.items()}
    return Graph(entry, blocks, tuple(_ordered(entry, frozenset(blocks), edges)))


def _after(ins: Instruction) -> tuple[int, ...]:
    if ins.flow in (Flow.NEXT, Flow.CALL):
        return (ins.end,)
    if ins.flow is Flow.BRANCH:
        return ins.end, ins.target
    return (ins.target,) if ins.flow is Flow.JUMP else ()


def _reached(decode: Callable[[int], Instruction], entry: int) -> dict[int, Instruction]:
    found: dict[int, Instruction] = {}
    waiting = [entry]
    while waiting:
        address = waiting.pop()
        if address in found:
            continue
        if len(found) >= MOST_INSTRUCTIONS:
            raise Refused(entry, f"it has more than {MOST_INSTRUCTIONS:,} instructions")
        found[address] = decode(address)
        waiting += _after(found[address])
    return found


def _blocks(found: Mapping[int, Instruction], entry: int) -> dict[int, Block]:
    leaders = {entry}
    for ins in found.values():
        if ins.flow not in (Flow.NEXT, Flow.CALL):
            leaders.update(_after(ins))
    # Two ways into the same place make it a beginning as well, where they overlap or fall together.
    follow: dict[int, int] = {}
    for ins in found.values():
        for address in _after(ins):
            follow[address] = follow.get(address, 0) + 1
    leaders |= {address for address, ways in follow.items() if ways > 1}
    return {leader: _block(found, leader, leaders) for leader in leaders}


def _block(found: Mapping[int, Instruction], leader: int, leaders: set[int]) -> Block:
    run = [found[leader]]
    while run[-1].flow in (Flow.NEXT, Flow.CALL) and run[-1].end not in leaders:
        run.append(found[run[-1].end])
    return Block(tuple(run), _after(run[-1]))


def _ordered(first: int, nodes: frozenset[int], edges: Mapping[int, Sequence[int]]) -> Iterator[Step]:
    """Blocks in topological order; what leads back to itself is one loop, ordered inside the same way."""
    for component in _components(first, nodes, edges):
        only = next(iter(component))
        if len(component) == 1 and only not in edges[only]:
            yield only
            continue
        header = first if first in component else _entered(component, nodes, edges)
        inside = component - {header}
        yield Loop(header, component, tuple(_ordered(min(inside), inside, edges)) if inside else ())


def _entered(component: frozenset[int], nodes: frozenset[int], edges: Mapping[int, Sequence[int]]) -> int:
    """The block through which a loop is entered from outside; of several the lowest."""
    outside = nodes - component
    doors = {target for source in outside for target in edges[source] if target in component}
    return min(doors or component)


def _components(
    first: int, nodes: frozenset[int], edges: Mapping[int, Sequence[int]]
) -> list[frozenset[int]]:
    """Strongly connected components in topological order (R. E. Tarjan, SIAM J. Comput. 1 (1972) 146)."""
    found: list[frozenset[int]] = []
    number: dict[int, int] = {}
    lowest: dict[int, int] = {}
    open_: list[int] = []
    is_open: set[int] = set()
    for root in (first, *sorted(nodes)):
        if root in number:
            continue
        work: list[tuple[int, Iterator[int]]] = []
        _enter(root, number, lowest, open_, is_open)
        work.append((root, iter(_within(edges[root], nodes))))
        while work:
            node, targets = work[-1]
            target = next(targets, None)
            if target is None:
                work.pop()
                if work:
                    lowest[work[-1][0]] = min(lowest[work[-1][0]], lowest[node])
                if lowest[node] == number[node]:
                    found.append(_closed(node, open_, is_open))
            elif target not in number:
                _enter(target, number, lowest, open_, is_open)
                work.append((target, iter(_within(edges[target], nodes))))
            elif target in is_open:
                lowest[node] = min(lowest[node], number[target])
    return found[::-1]


def _within(targets: Iterable[int], nodes: frozenset[int]) -> list[int]:
    return [target for target in targets if target in nodes]


def _enter(
    node: int, number: dict[int, int], lowest: dict[int, int], open_: list[int], is_open: set[int]
) -> None:
    number[node] = lowest[node] = len(number)
    open_.append(node)
    is_open.add(node)


def _closed(node: int, open_: list[int], is_open: set[int]) -> frozenset[int]:
    at = open_.index(node)
    component = frozenset(open_[at:])
    del open_[at:]
    is_open -= component
    return component
