"""One exported tick held against its graph: what it writes is shown to be the graph's for all values.

Nothing of the emitter is used. Members are found by the names of inputs, slots and wires, in their order.
On the way each local that comes to the same as a node on a drive, but was not made in the same manner, is
proven to be that node; a mistake is told with the first local that is like no node.
"""

import random
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from mixer.core.layout import layout_of
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import wire_signals
from mixer.lower.run.python import compile_graph
from mixer.testing.inputs import rows
from tests.lower.reader.alike import Alike
from tests.lower.reader.c99 import BOOL, Reader, Value, parsed
from tests.lower.reader.graph_terms import GraphTerms
from tests.lower.reader.judge import STEPS, Judge
from tests.lower.reader.preprocess import UnequalError
from tests.lower.reader.single import SingleTerms
from tests.lower.reader.terms import Atom, Flag, Number

TICKS, EVERY = 6000, 20


@dataclass
class Report:
    """What was shown."""

    members: int
    settled: Counter[str]
    """How many equalities and bounds were seen, tried in full, left to the solver."""


def prove_export(graph: Graph, text: str, int_width: int = 32, steps: int = STEPS) -> Report:
    """Prove a C text, header and source, to be the graph. `steps` are the solver's, a question.

    Raises UnequalError.
    """
    source, terms = parsed(text, int_width), SingleTerms()
    judge, nodes = Judge(terms, steps), GraphTerms(graph, terms)
    alike = Alike(judge, _drive(graph, nodes))
    nodes.make(alike.add)
    strange: list[str] = []
    reader = Reader(source, judge, int_width, lambda value: value)
    slots = _check_start(graph, reader)
    reader.known = lambda value: _known(value, reader, alike, strange)
    _open(graph, nodes, reader, slots)
    reader.where = ["mix_tick"]
    reader.run(source.functions["mix_tick"].body.block_items, {})
    wanted = {f"state->{name}": nodes.of[graph.state[slot]] for name, slot in slots.items()}
    wires = [nodes.of[graph.signals[name]] for name in _sent(graph)]
    wanted |= dict(zip((f"out->{name}" for name in source.structs["mix_outputs"]), wires, strict=True))
    for place, node in wanted.items():
        _confront(place, node, reader, strange)
    if terms.impossible:
        raise UnequalError("bounds contradict each other")
    return Report(len(wanted), judge.settled)


def _confront(place: str, node: Number | Flag, reader: Reader, strange: Sequence[str]) -> None:
    written = reader.memory.get(place)
    if written is None:
        raise UnequalError(f"{place} is not written whatever happens")
    if not isinstance(node, Number) or not reader.judge.same(written.number, node):
        first = f"; the first that is like no node of the graph: {strange[0]}" if strange else ""
        raise UnequalError(f"{place} is not shown to be what the graph says{first}")


def _open(graph: Graph, nodes: GraphTerms, reader: Reader, slots: dict[str, int]) -> None:
    """Inputs and state as the tick finds them; what it may write."""
    structs = reader.source.structs
    _check_names(structs["mix_inputs"], layout_of(graph.plan).inputs)
    _check_names(structs["mix_outputs"], [f"wire.{o.name}" for o in graph.plan.outputs] + ["guard.state"])
    given = dict(zip((f"in->{name}" for name in structs["mix_inputs"]), nodes.inputs, strict=True))
    given |= {f"state->{name}": nodes.state[slot] for name, slot in slots.items()}
    kinds = {f"in->{name}": reader.types[kind] for name, kind in structs["mix_inputs"].items()}
    reader.members = {f"state->{name}": reader.types[kind] for name, kind in structs["mix_state"].items()}
    reader.members |= {f"out->{name}": reader.types[kind] for name, kind in structs["mix_outputs"].items()}
    reader.memory = {}
    for place, number in given.items():
        kind, reach = (kinds | reader.members)[place], reader.terms.reach(number)
        if reach.low < kind.reach.low or reach.high > kind.reach.high:
            raise UnequalError(f"{place} is too narrow for {reach.low} to {reach.high}")
        reader.memory[place] = Value(number, kind)


def _sent(graph: Graph) -> list[str]:
    return [*wire_signals(graph.plan), layout_of(graph.plan).names.guard.state]


def _check_names(members: Iterable[str], names: Sequence[str]) -> None:
    """Members stand in the order of what they are, and are called like it."""
    members = list(members)
    if len(members) != len(names):
        raise UnequalError(f"{len(members)} members where there should be {len(names)}")
    for member, name in zip(members, names, strict=True):
        if not _is_called(member, name):
            raise UnequalError(f"{member} stands where {name} should")


def _is_called(member: str, name: str) -> bool:
    plain = re.sub(r"[^A-Za-z0-9]+", "_", name).strip("_")[:56]
    return re.fullmatch(rf"(n_)?{plain or 'unnamed'}(_\d+)?", member) is not None


def _check_start(graph: Graph, reader: Reader) -> dict[str, int]:
    """The slot of each member of the state; `mix_start` writes the start value of each and nothing else."""
    members, slots = reader.source.structs["mix_state"], {}
    own = iter(slot for slot, twin in enumerate(graph.twins) if slot == twin)
    for member in members:
        slot = next((slot for slot in own if _is_called(member, graph.slots[slot])), None)
        if slot is None:
            raise UnequalError(f"state->{member} is no slot of the state, or not in its place")
        slots[member] = slot
    reader.where = ["mix_start"]
    reader.members = {f"state->{name}": reader.types[kind] for name, kind in members.items()}
    reader.run(reader.source.functions["mix_start"].body.block_items, {})
    for member, slot in slots.items():
        written = reader.memory.get(f"state->{member}")
        if written is None or written.number is not reader.terms.constant(graph.start[slot]):
            raise UnequalError(f"mix_start: state->{member} is not what a board starts with")
    return slots


def _known(value: Value, reader: Reader, alike: Alike, strange: list[str]) -> Value:
    """The same value as the node it is proven to be, where it is made in another manner."""
    term = reader.truth(value) if value.type == BOOL else value.number
    if not alike.likely(term):
        strange.append(" in ".join(reversed(reader.where)))
    found = alike.known(term, reader.path)
    return value._replace(number=found) if isinstance(found, Number) else reader.said(found)


def _drive(graph: Graph, nodes: GraphTerms) -> dict[Atom, Any]:
    """What inputs and state are at moments here and there of a drive."""
    columns = np.array(list(_moments(graph)), np.int64).T
    given = zip([*nodes.inputs, *nodes.state], columns, strict=True)
    return {number.parts[0][0]: column for number, column in given if number.parts}


def _moments(graph: Graph) -> Iterator[tuple[int, ...]]:
    state: Sequence[int] = graph.start
    one_tick = compile_graph(graph)
    for number, row in enumerate(rows(graph.plan, TICKS, random.Random(7))):
        if number % EVERY == 0:
            yield (*row, *state)
        _, state = one_tick(row, state)
