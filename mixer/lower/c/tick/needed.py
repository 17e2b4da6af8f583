"""Where each number of a tick is needed at all: always, or only where certain flags hold.

What only one arm of a choice needs is calculated inside that arm: nothing of the mix while the robot is not
live, the chosen shape alone. A place is the flags that hold there, from the outside in. A number needed in
several places stands in the innermost place around all of them (the common ancestor of its uses, as in
J. Knoop, O. Rüthing and B. Steffen, Lazy code motion, 1992, brought down to a graph without loops).
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from mixer.lower.graph.nodes import Graph, Op


class Arm(NamedTuple):
    """One side of an `if`."""

    flag: int
    holds: bool
    rank: int
    """Of several by the same flag, which: an `if` whose outcome another one uses stands before it."""


Place: TypeAlias = tuple[Arm, ...]
"""One arm inside the other."""
EVERYWHERE: Place = ()
Operands: TypeAlias = Callable[[int], tuple[int, ...]]
_SHARED = 2
_WORTH = 4
"""So much calculation inside makes an `if` worth its lines."""


class Site(NamedTuple):
    """A node where it is calculated."""

    node: int
    place: Place


@dataclass
class Needs:
    """The nodes that some roots need, and where."""

    graph: Graph
    operands: Operands
    """What a node is written from, which may be less than what the graph makes it of."""
    ranks: Mapping[Site, int]
    """The choices that become an `if` with both arms inside, and which of several they belong to.

    In places as if each flag had one `if` only.
    """
    places: dict[int, tuple[Place, ...]] = field(default_factory=dict)
    """Where each node is calculated: in several places only where these exclude each other."""
    uses: dict[Site, int] = field(default_factory=dict)
    _facts: dict[Place, dict[int, bool]] = field(default_factory=dict)

    def is_branch(self, site: Site) -> bool:
        """Whether a choice becomes an `if`."""
        return _plain(site) in self.ranks

    def facts(self, place: Place) -> Mapping[int, bool]:
        """The flags known in a place."""
        known = self._facts.get(place)
        if known is None:
            known = dict(self.facts(place[:-1])) if place else {}
            if place:
                self._learn(place[-1].flag, place[-1].holds, known)
            self._facts[place] = known
        return known

    def _learn(self, flag: int, holds: bool, known: dict[int, bool]) -> None:
        """What follows from a flag."""
        known[flag] = holds
        node = self.graph.nodes[flag]
        if node.op is Op.NOT:
            self._learn(node.args[0], not holds, known)
        elif node.op in (Op.AND, Op.OR) and holds == (node.op is Op.AND):
            for arg in node.args:
                self._learn(arg, holds, known)

    def seen(self, index: int, place: Place) -> int:
        """The node as it is in a place: of a choice whose flag is known there, the arm."""
        known = self.facts(place)
        node = self.graph.nodes[index]
        while node.op is Op.SELECT and node.args[0] in known:
            index = node.args[1 if known[node.args[0]] else 2]
            node = self.graph.nodes[index]
        return index

    def site(self, index: int, place: Place) -> Site:
        """Where a node is calculated that is used in a place."""
        return Site(index, next(own for own in self.places[index] if own == place[: len(own)]))

    def sites(self) -> list[Site]:
        """All of them, operands before what is made of them."""
        return [Site(index, place) for index in sorted(self.places) for place in self.places[index]]

    def arms(self, choice: Site) -> tuple[Place, Place]:
        """The two places that an `if` opens."""
        flag, rank = self.graph.nodes[choice.node].args[0], self.ranks.get(_plain(choice), 0)
        return (*choice.place, Arm(flag, True, rank)), (*choice.place, Arm(flag, False, rank))

    def wanted(self, site: Site) -> list[Site]:
        """What a node is made of, and where each part is used."""
        place, parts = site.place, self.operands(site.node)
        if not self.is_branch(site):
            return [Site(self.seen(part, place), place) for part in parts]
        arms = zip(parts[1:], self.arms(site), strict=True)
        return [Site(parts[0], place), *(Site(self.seen(arm, inside), inside) for arm, inside in arms)]

    def parts(self, site: Site) -> list[Site]:
        """What a node is made of, each where it is calculated."""
        return [self.site(*part) for part in self.wanted(site)]

    def find(self, roots: Iterable[int]) -> None:
        """Fill `places` and `uses`."""
        asked: dict[int, list[Place]] = {root: [EVERYWHERE] for root in roots}
        for index in range(len(self.graph.nodes) - 1, -1, -1):
            if index not in asked:
                continue
            self.places[index] = tuple(_apart(asked[index], 0))
            for place in self.places[index]:
                for part in self.wanted(Site(index, place)) if self.operands(index) else ():
                    asked.setdefault(part.node, []).append(part.place)
        for root in roots:
            self.uses[Site(root, EVERYWHERE)] = 0
        for site in self.sites():
            for part in self.parts(site) if self.operands(site.node) else ():
                self.uses[part] = self.uses.get(part, 0) + 1

    def alike(self, choice: Site) -> list[Site]:
        """The choices that share an `if`."""
        same = self.arms(choice)
        flag = self.graph.nodes[choice.node].args[0]
        near = [site for site in self.sites() if site.place == choice.place and self.is_branch(site)]
        return [
            site for site in near if self.graph.nodes[site.node].args[0] == flag and self.arms(site) == same
        ]


def _plain(site: Site) -> Site:
    """The same as if each flag had one `if` only."""
    return Site(site.node, tuple([arm._replace(rank=0) for arm in site.place]))


def _apart(places: Sequence[Place], depth: int) -> list[Place]:
    """Where to calculate what is used in some places: once, around all, unless they exclude each other."""
    nexts = dict.fromkeys(place[depth] if len(place) > depth else None for place in places)
    first, *others = nexts
    if first is None or None in nexts:
        return [places[0][:depth]]
    if any(other[:1] + other[2:] != first[:1] + first[2:] for other in others if other is not None):
        return [places[0][:depth]]
    if _covers(places, depth):
        return [places[0][:depth]]
    found = []
    for arm in nexts:
        found += _apart([place for place in places if place[depth] == arm], depth + 1)
    return found


def _covers(places: Sequence[Place], depth: int) -> bool:
    """Whether every way through some places comes upon one of them."""
    if any(len(place) == depth for place in places):
        return True
    by_arm: dict[Arm, list[Place]] = {}
    for place in places:
        by_arm.setdefault(place[depth], []).append(place)
    whole = {arm for arm, inside in by_arm.items() if _covers(inside, depth + 1)}
    return any(arm._replace(holds=not arm.holds) in whole for arm in whole)


def needs_of(
    graph: Graph,
    roots: Iterable[int],
    operands: Operands,
    weight: Callable[[int], int],
    whole: Collection[int] = (),
) -> Needs:
    """Where everything is needed that the roots are made of, with an `if` wherever one saves something.

    `weight` says how much work a node is; the nodes in `whole` are not taken apart.
    """
    roots = list(roots)
    choices = [
        index for index, node in enumerate(graph.nodes) if node.op is Op.SELECT and index not in whole
    ]
    ranks: dict[Site, int] | None = None
    while True:
        needs = Needs(graph, operands, _Any(choices) if ranks is None else ranks)
        needs.find(roots)
        worth = _worth(needs, weight)
        ordered = {
            _plain(site): _rank(needs, site)
            for site in needs.sites()
            if needs.is_branch(site) and not worth.isdisjoint(needs.arms(site))
        }
        if ordered == ranks:
            return needs
        ranks = ordered


class _Any(dict[Site, int]):
    """Every choice, wherever it may come to stand."""

    def __init__(self, choices: Iterable[int]) -> None:
        super().__init__()
        self._choices = frozenset(choices)

    def __contains__(self, site: object) -> bool:
        return isinstance(site, Site) and site.node in self._choices


def _worth(needs: Needs, weight: Callable[[int], int]) -> set[Place]:
    """The places in which much is calculated."""
    weights: dict[Place, int] = {}
    for index, place in needs.sites():
        if needs.operands(index):
            for depth in range(1, len(place) + 1):
                weights[place[:depth]] = weights.get(place[:depth], 0) + weight(index)
    for site in needs.sites():
        if needs.is_branch(site):
            for place in needs.arms(site):
                weights[place] = weights.get(place, 0) + _SHARED
    return {place for place, total in weights.items() if total >= _WORTH}


def _rank(needs: Needs, choice: Site) -> int:
    """How many `if`s of the same place, one after the other, a choice has to wait for."""
    place, before = choice.place, dict[Site, int]()

    def most(site: Site) -> int:
        found = before.get(site)
        if found is None:
            inside = site.place[: len(place)] == place and needs.operands(site.node)
            found = max((after(part) for part in needs.parts(site)), default=0) if inside else 0
            before[site] = found
        return found

    def after(site: Site) -> int:
        """The same, the node itself counted."""
        return most(site) + (site.place == place and needs.is_branch(site))

    return most(choice)
