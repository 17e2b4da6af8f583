"""Where a compiled program goes round and round: the heads of its loops, by name."""

from dataclasses import replace

from mixer.board.image.bound import NOTHING_GIVEN, machine_of
from mixer.board.image.elf import Image, Symbol
from mixer.board.image.paths.flow import Graph, Loop, Step, graph_of
from mixer.board.image.paths.instruction import Refused
from mixer.board.image.processors import processor_of


def with_loops(image: Image) -> tuple[Image, dict[str, int]]:
    """The same image with a symbol for the head of each loop, and those by name. Raises ImageError.

    A routine that the analysis does not follow is left out.
    """
    machine = machine_of(image, processor_of(image), NOTHING_GIVEN)
    found: dict[str, int] = {}
    for symbol in sorted(image.symbols.values(), key=lambda each: each.address):
        if not symbol.is_code or not symbol.size:
            continue
        try:
            graph = graph_of(machine.decode, symbol.address)
        except Refused:
            continue
        for head in _heads(graph):
            owner = image.routine_at(head) or symbol  # it may go on into another one's
            found[f"{owner.name}+{head - owner.address:#x}"] = head
    symbols = {name: Symbol(name, head, 0, is_code=True) for name, head in found.items()}
    return replace(image, symbols={**image.symbols, **symbols}), found


def _heads(graph: Graph) -> list[int]:
    found: list[int] = []
    left: list[Step] = list(graph.order)
    while left:
        step = left.pop()
        if isinstance(step, Loop):
            found.append(step.header)
            left += step.body
    return sorted(found)
