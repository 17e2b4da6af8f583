"""From a trace of the step to functions: straight-line Python for one robot, numpy for many lanes.

A node read once is written into the expression that reads it; any other gets a local name, and names are
used again after their last reader, so that arrays are freed early and stay in the cache.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from mixer.plant.parts.battery import interpolate
from mixer.plant.step.trace import FloatSymbol, Points, Trace, Value, operands_of

MOST_NESTED = 12
"""Depth of an expression after which a name is given anyway."""

StepFunction = Callable[[Sequence[Any], Sequence[Any]], list[Any]]
"""(state, duties) -> state after the step followed by the observations."""


@dataclass(slots=True)
class _Writer:
    trace: Trace
    arrays: bool
    lines: list[str] = field(default_factory=list)
    tables: list[Points] = field(default_factory=list)
    text: dict[int, str] = field(default_factory=dict)
    depth: dict[int, int] = field(default_factory=dict)
    free: list[str] = field(default_factory=list)
    names: int = 0

    def operand(self, part: tuple[str, Any]) -> str:
        kind, value = part
        return self.text[value] if kind == "s" else f"({value!r})"

    def expression(self, node: tuple[Any, ...]) -> str:
        """The node's text, its operands already having theirs."""
        name = node[0]
        if name == "input":
            return str(node[1])
        if name == "along":
            self.tables.append(node[1][1])
            return f"along_{len(self.tables) - 1}({self.operand(node[2])})"
        parts = [self.operand(part) for part in node[1:]]
        if name == "neg":
            return f"(-{parts[0]})"
        if name in ("abs", "sqrt", "sin", "cos"):
            return f"{name}({parts[0]})"
        return (
            self.choice(name, parts) if name in ("select", "clamp") else f"({parts[0]} {name} {parts[1]})"
        )

    def choice(self, name: str, parts: list[str]) -> str:
        """`select` and `clamp`, which read differently for lanes."""
        if name == "select":
            condition, yes, no = parts
            return (
                f"where({condition}, {yes}, {no})" if self.arrays else f"({yes} if {condition} else {no})"
            )
        x, low, high = parts
        if self.arrays:
            return f"minimum(maximum({x}, {low}), {high})"
        return f"({low} if {x} < {low} else {high} if {x} > {high} else {x})"

    def name_for(self) -> str:
        if self.free:
            return self.free.pop()
        self.names += 1
        return f"t{self.names}"


def live_nodes(trace: Trace, roots: Sequence[int]) -> list[int]:
    """The nodes that roots are worked out from, in their order, the roots among them."""
    wanted: set[int] = set()
    pending = list(roots)
    while pending:
        index = pending.pop()
        if index not in wanted:
            wanted.add(index)
            pending.extend(operands_of(trace.nodes[index]))
    return sorted(wanted)


def needed_for(trace: Trace, results: Sequence[Value], wanted: Sequence[int]) -> list[int]:
    """Places among the results that the wanted ones come from, step after step: theirs and what they read.

    A result's place is its place in the state, so that what is read as `s[7]` needs result 7.
    """
    needed = set(wanted)
    while True:
        roots = [results[place].index for place in needed if isinstance(results[place], FloatSymbol)]
        inputs = (trace.nodes[index] for index in live_nodes(trace, roots))
        read = {int(node[1][2:-1]) for node in inputs if node[0] == "input" and node[1].startswith("s[")}
        if read <= needed:
            return sorted(needed)
        needed |= read


def _count_readers(trace: Trace, live: Sequence[int], roots: Sequence[int]) -> dict[int, int]:
    """How often each node is read; operands of a scalar clamp are read several times, hence named."""
    readers = dict.fromkeys(live, 0)
    for index in live:
        node = trace.nodes[index]
        for operand in operands_of(node):
            readers[operand] += 2 if node[0] == "clamp" else 1
    for root in roots:
        readers[root] += 2
    return readers


def write_source(trace: Trace, results: Sequence[Value], *, arrays: bool) -> tuple[str, list[Points]]:
    """Source of `step(s, d)` for a trace, and the tables it reads."""
    roots = [result.index for result in results if isinstance(result, FloatSymbol)]
    live = live_nodes(trace, roots)
    readers = _count_readers(trace, live, roots)
    writer = _Writer(trace, arrays)
    named = {index for index in live if readers[index] > 1 or trace.nodes[index][0] in ("input", "along")}
    _nest(trace, live, named, writer)
    last = _last_uses(trace, live, named, roots)
    for index in live:
        text = writer.expression(trace.nodes[index])
        if index not in named:
            writer.text[index] = text
            continue
        for gone in last.get(index, ()):
            writer.free.append(writer.text[gone])
        name = writer.name_for()
        writer.lines.append(f"    {name} = {text}")
        writer.text[index] = name
    ends = ", ".join(
        writer.text[r.index] if isinstance(r, FloatSymbol) else repr(float(r)) for r in results
    )
    return "\n".join(["def step(s, d):", *writer.lines, f"    return [{ends}]"]), writer.tables


def _nest(trace: Trace, live: Sequence[int], named: set[int], writer: _Writer) -> None:
    for index in live:
        deepest = max((writer.depth[operand] for operand in operands_of(trace.nodes[index])), default=0)
        if deepest >= MOST_NESTED:
            named.add(index)
        writer.depth[index] = 0 if index in named else deepest + 1


def _last_uses(
    trace: Trace, live: Sequence[int], named: set[int], roots: Sequence[int]
) -> dict[int, list[int]]:
    """For each named node, the named nodes that nobody reads after it."""
    reads: dict[int, set[int]] = {}
    last: dict[int, int] = {}
    for index in live:
        reads[index] = set()
        for operand in operands_of(trace.nodes[index]):
            reads[index] |= {operand} if operand in named else reads[operand]
        if index in named:
            for operand in reads[index]:
                last[operand] = index
    ends: dict[int, list[int]] = {}
    for operand, index in last.items():
        if operand not in roots:
            ends.setdefault(index, []).append(operand)
    return ends


def compile_step(trace: Trace, results: Sequence[Value], *, arrays: bool) -> StepFunction:
    """The function of a trace. Inputs are read from `s` (state) and `d` (duties)."""
    source, tables = write_source(trace, results, arrays=arrays)
    scope: dict[str, Any] = {"sqrt": math.sqrt, "sin": math.sin, "cos": math.cos, "abs": abs}
    if arrays:
        names = ("sqrt", "sin", "cos", "abs", "where", "minimum", "maximum")
        scope = {name: getattr(np, name) for name in names}
    for number, points in enumerate(tables):
        scope[f"along_{number}"] = lookup(points, arrays=arrays)
    exec(compile(source, "<step>", "exec"), scope)  # noqa: S102 - source written above, from numbers only
    step: StepFunction = scope["step"]
    return step


def lookup(points: Points, *, arrays: bool) -> Callable[[Any], Any]:
    """A function that reads a table: of a number, or of an array."""
    if not arrays:
        return lambda x: interpolate(points, x)
    xs, ys = np.array([x for x, _ in points]), np.array([y for _, y in points])
    return lambda x: np.interp(x, xs, ys).astype(x.dtype, copy=False)
