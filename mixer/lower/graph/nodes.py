"""The graph: one tick of the core for one plan, as a list of operations.

A `Graph` is immutable. `nodes` stand in an order in which every operand comes before its user, so a
lowering is one loop over them: emit a statement for each node from the names given to its `args`. There
are no cycles, no branches and no loops; every node may be computed always (operations are total within
the ranges below), or only where a `SELECT` asks for it.

What an operation means is written once, in `CONTRACTS`. Numbers are signed 32-bit. `Graph.ranges` holds,
for each node, bounds that every run from the start state stays within; `mixer.lower.graph.ranges` proves
them, and that nothing, the unnamed intermediates of `MUL14` included, leaves int32.
A lowering may rely on that.

What a lowering gives back:

- `graph.signals`: signal name -> node, in the order of `layout_of(plan).signals` (or the chosen ones);
- `graph.state`: the node that is each slot's next value, in the order of `layout_of(plan).state`. A slot
  that never leaves its start value is a `CONST` here and is never read; `graph.fixed` names those slots.
  Slots that are equal at every tick (front and rear wheel of one side) share a node, and only the first
  of them is read: `graph.twins`. So a state given to a lowering must be one that a run can reach.

All old state is read before any new state is written: copy, or write after the last read.

Several names may share a node (a stick without expo is curved as it is banded). `Graph.label(i)` is the
first of its signals, or empty; `Graph.owner(i)` the nearest signal a nameless node contributes to;
`mixer.lower.graph.names` turns them into words. `Node.place` is the core's line that asked for it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

from mixer.core.layout import layout_of
from mixer.core.plan import Plan

INT32_MIN = -(2**31)
INT32_MAX = 2**31 - 1


class Kind(Enum):
    """What a node gives: a signed 32-bit number, or a flag."""

    NUMBER = "number"
    FLAG = "flag"


class Op(Enum):
    """The operations of a graph; `CONTRACTS` says what each means."""

    CONST = "const"
    TRUTH = "truth"
    INPUT = "input"
    STATE = "state"
    ADD = "add"
    SUB = "sub"
    NEG = "neg"
    MULTIPLY = "multiply"
    MUL14 = "mul14"
    SHIFT_RIGHT = "shift_right"
    DIVIDE = "divide"
    ABSOLUTE = "absolute"
    MINIMUM = "minimum"
    MAXIMUM = "maximum"
    CLAMP = "clamp"
    SELECT = "select"
    LESS = "less"
    LESS_EQUAL = "less_equal"
    EQUAL = "equal"
    NOT_EQUAL = "not_equal"
    AND = "and"
    OR = "or"
    NOT = "not"
    LOOKUP = "lookup"

    __hash__ = object.__hash__  # there is one of each; Enum would hash the name, ten times a node


class Contract(NamedTuple):
    """One operation's meaning."""

    takes: tuple[Kind, ...]
    gives: Kind
    means: str
    """In terms of its operands a, b, c and of `Node.value`, here v."""


_N, _F = Kind.NUMBER, Kind.FLAG
CONTRACTS: Mapping[Op, Contract] = MappingProxyType(
    {
        Op.CONST: Contract((), _N, "v"),
        Op.TRUTH: Contract((), _F, "v != 0; only while a graph is built, never left in one"),
        Op.INPUT: Contract((), _N, "inputs[v]"),
        Op.STATE: Contract((), _N, "old state[v]"),
        Op.ADD: Contract((_N, _N), _N, "a + b"),
        Op.SUB: Contract((_N, _N), _N, "a - b"),
        Op.NEG: Contract((_N,), _N, "-a"),
        Op.MULTIPLY: Contract((_N, _N), _N, "a * b"),
        Op.MUL14: Contract((_N, _N), _N, "(a*b + 8192 + ((a*b) >> 31)) >> 14, shifts as SHIFT_RIGHT"),
        Op.SHIFT_RIGHT: Contract((_N,), _N, "floor(a / 2**v), 0 <= v <= 31: an arithmetic shift"),
        Op.DIVIDE: Contract((_N, _N), _N, "floor(a / b), a >= 0 and b > 0 hold always"),
        Op.ABSOLUTE: Contract((_N,), _N, "-a if a < 0 else a"),
        Op.MINIMUM: Contract((_N, _N), _N, "a if a < b else b"),
        Op.MAXIMUM: Contract((_N, _N), _N, "a if a > b else b"),
        Op.CLAMP: Contract((_N, _N, _N), _N, "b if a < b else c if a > c else a; b <= c holds always"),
        Op.SELECT: Contract((_F, _N, _N), _N, "b if a else c"),
        Op.LESS: Contract((_N, _N), _F, "a < b"),
        Op.LESS_EQUAL: Contract((_N, _N), _F, "a <= b"),
        Op.EQUAL: Contract((_N, _N), _F, "a == b"),
        Op.NOT_EQUAL: Contract((_N, _N), _F, "a != b"),
        Op.AND: Contract((_F, _F), _F, "a and b"),
        Op.OR: Contract((_F, _F), _F, "a or b"),
        Op.NOT: Contract((_F,), _F, "not a"),
        Op.LOOKUP: Contract((_N,), _N, "table[a]; only on the way to a board's C, never traced"),
    }
)
"""Operands are in the order of `Node.args`. No flag is ever a number: `SELECT(flag, 1, 0)` makes one."""


class Node(NamedTuple):
    """One operation on earlier nodes."""

    op: Op
    args: tuple[int, ...]
    """Indices of the operands, all smaller than the node's own."""
    value: int = 0
    """The number of a CONST, the index of an INPUT or STATE, the bits of a SHIFT_RIGHT; else 0."""
    place: str = ""
    """The line of the core that asked for it and its function, ``drive.py:47 slew``."""

    @property
    def kind(self) -> Kind:
        """Whether the node gives a number or a flag."""
        return CONTRACTS[self.op].gives


class Range(NamedTuple):
    """All whole numbers from `low` to `high`; of a flag, 0 is false and 1 true."""

    low: int
    high: int

    def __contains__(self, value: object) -> bool:
        return isinstance(value, int) and self.low <= value <= self.high


@dataclass(frozen=True, eq=False)
class Graph:
    """One tick of one plan."""

    plan: Plan
    nodes: tuple[Node, ...]
    ranges: tuple[Range, ...]
    """For each node the bounds it stays within on every run from the start state."""
    signals: Mapping[str, int]
    state: tuple[int, ...]
    state_ranges: tuple[Range, ...]
    """For each state slot the bounds it stays within, an invariant: true at start, kept by each tick."""
    fixed: tuple[str, ...]
    """State slots that never leave their start value."""
    twins: tuple[int, ...]
    """For each slot the one read in its place: itself, or an earlier one that is equal at every tick."""
    slots: tuple[str, ...] = ()
    """Names of the state slots; the layout's, unless more than the firmware was traced."""
    start: tuple[int, ...] = ()
    """Their values at power-up."""
    table: tuple[int, ...] = ()
    """The numbers of all lookups."""

    def __post_init__(self) -> None:
        layout = layout_of(self.plan)
        object.__setattr__(self, "slots", self.slots or layout.state)
        object.__setattr__(self, "start", self.start or layout.start)

    @cached_property
    def uses(self) -> tuple[int, ...]:
        """How often each node is an operand, a signal or a next state."""
        counts = [0] * len(self.nodes)
        for node in self.nodes:
            for arg in node.args:
                counts[arg] += 1
        for root in (*self.signals.values(), *self.state):
            counts[root] += 1
        return tuple(counts)

    def needed(self, roots: Iterable[int]) -> list[int]:
        """The nodes that some of them are made of, those among them, in the graph's order."""
        found = set(roots)
        for index in range(len(self.nodes) - 1, -1, -1):
            if index in found:
                found.update(self.nodes[index].args)
        return sorted(found)

    def label(self, index: int) -> str:
        """The first signal that is this node, or an empty text."""
        return self._labels.get(index, "")

    def owner(self, index: int) -> str:
        """The first signal this node is, or contributes to; failing that, the state slot."""
        return self._owners[index]

    @cached_property
    def _labels(self) -> dict[int, str]:
        labels: dict[int, str] = {}
        for name, index in self.signals.items():
            labels.setdefault(index, name)
        return labels

    @cached_property
    def _owners(self) -> tuple[str, ...]:
        owners = [""] * len(self.nodes)
        for slot, index in zip(self.slots, self.state, strict=False):
            owners[index] = owners[index] or slot
        for index, signal in self._labels.items():
            owners[index] = signal
        for index in range(len(self.nodes) - 1, -1, -1):
            for arg in self.nodes[index].args:
                owners[arg] = owners[arg] or owners[index]
        return tuple(owners)
