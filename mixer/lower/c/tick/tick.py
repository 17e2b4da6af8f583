"""One tick in C: its functions, its stages, its statements."""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.lower.c.plain.body import owners_of, titles_of
from mixer.lower.c.plain.names import Identifiers
from mixer.lower.c.tick.calls import Spelled, needs_around
from mixer.lower.c.tick.expressions import Expression, fitted
from mixer.lower.c.tick.functions import Functions
from mixer.lower.c.tick.idioms import idioms_of
from mixer.lower.c.tick.needed import EVERYWHERE, Site, needs_of
from mixer.lower.c.tick.routines import calls_of, cheap_flags
from mixer.lower.c.tick.stages import Function, in_stages
from mixer.lower.c.tick.stores import Line, Piece, Store, with_stores
from mixer.lower.c.tick.writer import Title, Writer
from mixer.lower.graph.names import trade_name
from mixer.lower.graph.nodes import Graph, Op

_WORK = {Op.MUL14: 4, Op.MULTIPLY: 3, Op.SHIFT_RIGHT: 3, Op.DIVIDE: 20}


class Target(NamedTuple):
    """What is assigned: `place = node`."""

    place: str
    node: int
    kind: str
    """The type of what stands there."""


class Body(NamedTuple):
    """The functions and statements of a tick, and the run-time functions they call."""

    functions: list[Function]
    lines: list[Line]
    calls: frozenset[str]


def body_of(
    graph: Graph, targets: Sequence[Target], inputs: Sequence[Expression], state: Sequence[Expression]
) -> Body:
    """One tick that ends in the targets; whatever none of them needs is left out.

    `inputs` and `state` are what reads them in C, in the order of the graph's inputs and slots.
    """
    roots = list(dict.fromkeys(target.node for target in targets))
    kinds = {target.node: target.kind for target in reversed(targets) if target.place.startswith("state->")}
    cheap = cheap_flags(graph, kinds)
    whole = needs_of(
        graph, roots, lambda index: graph.nodes[index].args, lambda index: work_of(graph, index)
    )
    functions = Functions(graph, titles_of(graph, whole.places), work_of, Identifiers())
    routines = functions.of(calls_of(whole, roots, lambda index: work_of(graph, index), cheap))
    called: dict[int, Spelled] = {**idioms_of(graph), **routines}
    needs = needs_around(graph, roots, called, lambda index: work_of(graph, index))
    titles = titles_of(graph, needs.places)
    words = {index: _title(names) for index, names in titles.items()}
    owners = owners_of(graph, needs.places, titles)
    writer = Writer(graph, inputs, state, needs, words, owners, kinds, called, cheap)
    for site in needs.sites():
        if not site.place:
            writer.need(site)
    stages, lines = in_stages(_with_targets(writer, targets))
    return Body([*functions.made, *stages], lines, frozenset(writer.calls | functions.helpers))


def work_of(graph: Graph, index: int) -> int:
    """How much work a node is, about: a sum is one."""
    return _WORK.get(graph.nodes[index].op, 1)


def _with_targets(writer: Writer, targets: Sequence[Target]) -> list[Piece]:
    stores = []
    for target in targets:
        made = writer.written[Site(target.node, EVERYWHERE)]
        name = made.text if any(made.text in piece.names for piece in writer.pieces) else ""
        writer.calls |= made.calls
        stores.append(Store(target.place, fitted(target.kind, made).text, name))
    return with_stores(writer.pieces, stores)


def _title(names: Sequence[str]) -> Title:
    words = " = ".join(dict.fromkeys(trade_name(name.removeprefix("next.")) for name in names))
    return Title(names[0], words)
