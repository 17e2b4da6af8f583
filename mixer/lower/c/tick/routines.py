"""Like parts of a tick as one function: what several outputs, sticks or contacts do in the same manner.

A part is all that one number alone is made of, within its place. Parts of the same form become one
function; what differs between them, numbers of the plan included, is handed to it.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import NamedTuple, TypeAlias

from mixer.lower.c.plain.body import LEAVES
from mixer.lower.c.tick.needed import EVERYWHERE, Needs, Site
from mixer.lower.graph.intervals import hull
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range

_LEAST = 5
"""Work in a part that is worth a function."""
Weight: TypeAlias = Callable[[int], int]


class Part(NamedTuple):
    """One number and all that it alone is made of."""

    root: Site
    inner: Mapping[Site, tuple[Site, ...]]
    """Each node with its operands, in an order in which operands come first, the root last."""
    given: tuple[Site, ...]
    """What it takes from outside."""
    constants: tuple[int, ...]
    """Its numbers, wherever they stand."""
    form: tuple[object, ...]
    """Equal for parts that differ in `given` and `constants` only."""


@dataclass(frozen=True)
class Routine:
    """A function for several parts."""

    graph: Graph
    """What it does: slots of the state are its parameters, the one next state is what it gives back."""
    parts: tuple[Part, ...]
    varying: tuple[int, ...]
    """Which of the constants are handed over."""
    moved: Mapping[Site, int]
    """Where the nodes of the first part are in the graph."""


@dataclass(frozen=True)
class Calls:
    """What is made functions."""

    routines: tuple[Routine, ...] = ()


def calls_of(needs: Needs, roots: Sequence[int], weight: Weight, cheap: Collection[int]) -> Calls:
    """The routines of a tick. Parts end in the roots, in what several need, and in the arms of an `if`.

    The flags in `cheap` may stand in several parts.
    """
    groups: dict[tuple[object, ...], list[Part]] = {}
    for several in _parts(needs, roots, weight, cheap).values():
        if len({(part.form, tuple(site.node for site in part.given)) for part in several}) == 1:
            groups.setdefault(several[0].form, []).extend(several)
    taken: set[Site] = set()
    routines: list[Routine] = []
    for alike in sorted(groups.values(), key=lambda alike: -_work(alike[0], weight)):
        free = [part for part in alike if taken.isdisjoint(part.inner)]
        if len(free) > 1:
            routines.append(_routine(needs.graph, free))
            taken.update(site for part in free for site in part.inner if site.node not in cheap)
    routines.sort(key=lambda routine: routine.parts[0].root)
    return Calls(tuple(routines))


def _parts(
    needs: Needs, roots: Sequence[int], weight: Weight, cheap: Collection[int]
) -> dict[int, list[Part]]:
    """The parts that are worth a function, by the node that they end in: one for each of its places."""
    users, ends = _users(needs, roots), {Site(root, EVERYWHERE) for root in roots}
    fixed = set(ends)
    ends |= {site for site, by in users.items() if len(by) > 1}
    ends |= {
        part for choice in needs.sites() if needs.is_branch(choice) for part in needs.parts(choice)[1:]
    }
    found: dict[int, list[Part]] = {}
    for site in sorted(ends):
        if needs.graph.nodes[site.node].op not in LEAVES:
            part = _Reader(needs, users, fixed, cheap, site).part()
            if part is not None and _work(part, weight) >= _LEAST:
                found.setdefault(site.node, []).append(part)
    return found


def _work(part: Part, weight: Weight) -> int:
    return sum(weight(site.node) for site in part.inner)


def _users(needs: Needs, roots: Sequence[int]) -> dict[Site, list[Site]]:
    """Who uses each node."""
    users: dict[Site, list[Site]] = {Site(root, EVERYWHERE): [] for root in roots}
    for site in needs.sites():
        if needs.operands(site.node):
            for part in dict.fromkeys(needs.parts(site)):
                users.setdefault(part, []).append(site)
    return users


@dataclass
class _Reader:
    """Reads off one part what it is."""

    needs: Needs
    users: Mapping[Site, Sequence[Site]]
    roots: set[Site]
    cheap: Collection[int]
    root: Site
    outside: set[Site] = field(default_factory=set)
    """What does not belong to it after all."""
    inner: set[Site] = field(default_factory=set)
    order: dict[Site, tuple[Site, ...]] = field(default_factory=dict)
    given: list[Site] = field(default_factory=list)
    constants: list[int] = field(default_factory=list)
    known: dict[Site, object] = field(default_factory=dict)
    form: list[object] = field(default_factory=list)

    def part(self) -> Part | None:
        """The part, cut short where it would take what is not there; None where it begins so."""
        while True:
            self._collect()
            place = self.root.place
            absent = [site for site in self.given if site.place != place[: len(site.place)]]
            if not absent:
                break
            inside = {site for site in self.inner if self.needs.is_branch(site)}
            outer = {
                choice
                for choice in inside
                for arm in self.needs.arms(choice)
                if any(site.place[: len(arm)] == arm for site in absent)
            }
            if self.root in outer or not outer:
                return None
            self.outside |= outer
        return Part(self.root, self.order, tuple(self.given), tuple(self.constants), tuple(self.form))

    def _collect(self) -> None:
        self.inner = {self.root}
        self.order, self.given, self.constants, self.known, self.form = {}, [], [], {}, []
        for site in sorted(self.users, reverse=True):
            if site.node < self.root.node and site not in self.outside and self._belongs(site):
                self.inner.add(site)
        self.inner -= {site for site in self.inner if self._turns_what_is_given(site)}
        self._visit(self.root)

    def _turns_what_is_given(self, site: Site) -> bool:
        """A sign put on outside, so that parts are alike that differ in it."""
        turned = self.needs.graph.nodes[site.node].op is Op.NEG and site != self.root
        return turned and self.needs.parts(site)[0] not in self.inner

    def _belongs(self, site: Site) -> bool:
        by = [user in self.inner for user in self.users[site]]
        if self.needs.graph.nodes[site.node].op in LEAVES or not any(by):
            return False
        return site.node in self.cheap or (all(by) and site not in self.roots)

    def _visit(self, site: Site) -> object:
        node = self.needs.graph.nodes[site.node]
        if site in self.known:
            return self.known[site]
        if node.op is Op.CONST:
            self.constants.append(node.value)
            return "constant"
        if site in self.inner:
            operands = tuple(self.needs.parts(site))
            for operand in operands:
                if self.needs.graph.nodes[operand.node].op is not Op.CONST:
                    self._visit(operand)
            self.form.append((node.op, node.value, tuple(map(self._visit, operands))))
            self.order[site] = operands
            self.known[site] = len(self.order)
        else:
            self.given.append(site)
            self.known[site] = (node.kind, len(self.given))
        return self.known[site]


def cheap_flags(graph: Graph, kept: Collection[int]) -> frozenset[int]:
    """Comparisons of what is at hand, or kept, with a number: each who needs one makes its own."""
    found = set()
    for index, node in enumerate(graph.nodes):
        if node.kind is Kind.FLAG and len(node.args) == 2:
            sides = [arg for arg in node.args if graph.nodes[arg].op is not Op.CONST]
            if len(sides) == 1 and (graph.nodes[sides[0]].op is Op.STATE or sides[0] in kept):
                found.add(index)
    return frozenset(found)


@dataclass
class _Maker:
    """Makes a routine's graph."""

    graph: Graph
    parts: Sequence[Part]
    varying: tuple[int, ...]
    nodes: list[Node] = field(default_factory=list)
    ranges: list[Range] = field(default_factory=list)
    moved: dict[Site, int] = field(default_factory=dict)
    handed: dict[int, int] = field(default_factory=dict)
    """The parameters that constants have become."""

    def __post_init__(self) -> None:
        first = self.parts[0]
        for number, given in enumerate(first.given):
            reach = self._together([part.given[number] for part in self.parts])
            self.moved[given] = self._add(Node(Op.STATE, (), number), reach)
        for number, at in enumerate(self.varying, start=len(first.given)):
            values = [part.constants[at] for part in self.parts]
            self.handed[at] = self._add(Node(Op.STATE, (), number), Range(min(values), max(values)))
        orders = [list(part.inner) for part in self.parts]
        constants = iter(enumerate(first.constants))
        for number, (site, operands) in enumerate(first.inner.items()):
            args = tuple(self._operand(operand, constants) for operand in operands)
            node = self.graph.nodes[site.node]
            reach = self._together([order[number] for order in orders])
            self.moved[site] = self._add(Node(node.op, args, node.value, node.place), reach)

    def _operand(self, operand: Site, constants: Iterator[tuple[int, int]]) -> int:
        if self.graph.nodes[operand.node].op is not Op.CONST:
            return self.moved[operand]
        at, value = next(constants)
        return (
            self.handed[at]
            if at in self.handed
            else self._add(Node(Op.CONST, (), value), Range(value, value))
        )

    def _add(self, node: Node, reach: Range) -> int:
        self.nodes.append(node)
        self.ranges.append(reach)
        return len(self.nodes) - 1

    def _together(self, sites: Sequence[Site]) -> Range:
        """The bounds that hold of all."""
        found = self.graph.ranges[sites[0].node]
        for site in sites[1:]:
            found = hull(found, self.graph.ranges[site.node])
        return found


def _routine(graph: Graph, parts: Sequence[Part]) -> Routine:
    columns = list(zip(*(part.constants for part in parts), strict=True))
    varying = tuple(at for at, column in enumerate(columns) if len(set(column)) > 1)
    make, first = _Maker(graph, parts, varying), parts[0]
    count = len(first.given) + len(varying)
    own = replace(
        graph,
        nodes=tuple(make.nodes),
        ranges=tuple(make.ranges),
        signals=MappingProxyType({}),
        state=(make.moved[first.root],),
        slots=tuple(map(str, range(count))),
        start=(0,) * count,
    )
    return Routine(own, tuple(parts), varying, make.moved)
