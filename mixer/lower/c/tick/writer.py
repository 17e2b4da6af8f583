"""The statements of a tick: what several need or has a name is a local, what one arm needs stands in it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from mixer.lower.c.plain.body import LEAVES
from mixer.lower.c.plain.names import Identifiers, comment_text
from mixer.lower.c.tick.calls import Spelled
from mixer.lower.c.tick.expressions import (
    Expression,
    expression_of,
    fitted,
    literal,
    local,
    type_of,
)
from mixer.lower.c.tick.needed import EVERYWHERE, Needs, Place, Site
from mixer.lower.c.tick.stores import Line, Piece
from mixer.lower.graph.nodes import Graph, Kind, Op

_LONGEST = 60
"""Characters of an expression that still goes into another one."""


class Title(NamedTuple):
    """What a number is called."""

    name: str
    words: str
    """For a comment; empty where there is nothing to say."""


@dataclass
class Writer:
    """Writes what is needed of a graph."""

    graph: Graph
    inputs: Sequence[Expression]
    """What reads the inputs in C, in their order, and ..."""
    state: Sequence[Expression]
    """... the slots of the state."""
    needs: Needs
    titles: Mapping[int, Title]
    owners: Mapping[int, str]
    kinds: Mapping[int, str]
    """The types of those that become a member of the state."""
    called: Mapping[int, Spelled]
    cheap: Collection[int]
    """Flags that are written wherever they are needed."""
    scope: Identifiers = field(default_factory=Identifiers)
    written: dict[Site, Expression] = field(default_factory=dict)
    inlined: set[Site] = field(default_factory=set)
    """Flags that stand within what asks for them."""
    pieces: list[Piece] = field(default_factory=list)
    calls: set[str] = field(default_factory=set)
    lines: list[Line] = field(default_factory=list)
    place: Place = EVERYWHERE

    def need(self, site: Site) -> Expression:
        """Have a node written, after what it is made of."""
        if site not in self.written:
            node = self.graph.nodes[site.node]
            if node.op in LEAVES:
                leaves = self.inputs if node.op is Op.INPUT else self.state
                self.written[site] = literal(node.value) if node.op is Op.CONST else leaves[node.value]
            elif self.needs.is_branch(site):
                self._branch(site)
            else:
                self._plain(site)
        return self.written[site]

    def _plain(self, site: Site) -> None:
        made = self._made(site)
        once = self.needs.uses[site] == 1
        if once and self.graph.nodes[site.node].kind is Kind.FLAG:
            self.inlined.add(site)
            self.written[site] = made
        elif site.node in self.cheap or (
            once and len(made.text) <= _LONGEST and site.node not in self.titles
        ):
            self.written[site] = made
        else:
            self._declare(site, made)

    def _made(self, site: Site) -> Expression:
        """The expression of a node, after what it is made of."""
        args = [self.need(part) for part in self.needs.parts(site)]
        call = self.called.get(site.node)
        return expression_of(self.graph, site.node, args) if call is None else call.spelled(args)

    def _kind(self, index: int) -> str:
        is_number = self.graph.nodes[index].kind is Kind.NUMBER
        if index in self.kinds:
            return self.kinds[index]
        return type_of(self.graph.ranges[index]) if is_number else "bool"

    def _name(self, index: int) -> str:
        """A name for a node, its meaning as a comment above."""
        self._explain(index)
        title = self.titles.get(index)
        return self.scope.give(title.name if title else f"toward.{self.owners[index]}")

    def _explain(self, index: int) -> None:
        title = self.titles.get(index)
        if title is not None and title.words:
            self._say(f"/* {comment_text(title.words)} */")

    def _explain_asked(self, flag: Site) -> None:
        """What a condition asks, as far as it has a name and stands nowhere else."""
        if flag in self.inlined:
            self._explain(flag.node)
            for part in self.needs.parts(flag):
                self._explain_asked(part)

    def _say(self, text: str) -> None:
        self.lines.append(Line(len(self.place), text))

    def _end_piece(self, *names: str) -> None:
        if not self.place:
            self.pieces.append(Piece(self.lines, names))
            self.lines = []

    def _declare(self, site: Site, made: Expression) -> None:
        name, kind = self._name(site.node), self._kind(site.node)
        self._say(f"const {kind} {name} = {fitted(kind, made).text};")
        self.calls |= made.calls
        self._end_piece(name)
        self.written[site] = local(name, kind)

    def _branch(self, choice: Site) -> None:
        """An `if` around all that its arms alone need, for every choice that shares it."""
        alike = self.needs.alike(choice)
        flag = self.needs.parts(choice)[0]
        for part in [flag, *self._outside(alike)]:
            self.need(part)
        names = []
        self._explain_asked(flag)
        for each in alike:
            names.append(self._name(each.node))
            self._say(f"{self._kind(each.node)} {names[-1]};")
        self._say(f"if ({self.written[flag].text}) {{")
        for number, place in enumerate(self.needs.arms(choice)):
            if number:
                self._say("} else {")
            self._arm(place, dict(zip(alike, names, strict=True)))
        self._say("}")
        self.calls |= self.written[flag].calls
        self._end_piece(*names)
        for each, name in zip(alike, names, strict=True):
            self.written[each] = local(name, self._kind(each.node))

    def _outside(self, alike: Sequence[Site]) -> list[Site]:
        """What the arms need that does not stand in them."""
        arms = self.needs.arms(alike[0])
        depth = len(arms[0])
        found: list[Site] = []
        waiting, known = list(alike), set[Site]()
        while waiting:
            site = waiting.pop()
            for part in self.needs.parts(site) if self.needs.operands(site.node) else ():
                if part not in known:
                    known.add(part)
                    inside = part.place[:depth] in arms
                    (waiting if inside else found).append(part)
        return sorted(found)

    def _arm(self, place: Place, names: Mapping[Site, str]) -> None:
        outer, self.place = self.place, place
        side = 1 if place[-1].holds else 2
        for choice, name in names.items():
            made = self.result(self.needs.parts(choice)[side])
            self.calls |= made.calls
            self._say(f"{name} = {fitted(self._kind(choice.node), made).text};")
        self.place = outer

    def result(self, site: Site) -> Expression:
        """What a node comes to: written here where nothing else needs it."""
        plain = site not in self.written and not self.needs.is_branch(site) and site.place == self.place
        if not plain or self.needs.uses[site] > 1 or self.graph.nodes[site.node].op in LEAVES:
            return self.need(site)
        made = self._made(site)
        self._explain(site.node)
        return made
