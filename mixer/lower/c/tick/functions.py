"""The routines of a tick as C functions, named and told by what their results are called."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from mixer.lower.c.plain.names import Identifiers, comment_text
from mixer.lower.c.tick.calls import Call, needs_around
from mixer.lower.c.tick.expressions import fitted, local, type_of
from mixer.lower.c.tick.idioms import idioms_of
from mixer.lower.c.tick.needed import EVERYWHERE, Needs, Site
from mixer.lower.c.tick.routines import Calls, Part, Routine, cheap_flags
from mixer.lower.c.tick.stages import Function
from mixer.lower.c.tick.stores import Line
from mixer.lower.c.tick.writer import Title, Writer
from mixer.lower.graph.names import trade_name
from mixer.lower.graph.nodes import Graph, Kind, Op


@dataclass
class Functions:
    """The functions of a graph, as they are made."""

    graph: Graph
    titles: Mapping[int, Sequence[str]]
    """What the nodes of the graph are called."""
    work: Callable[[Graph, int], int]
    names: Identifiers
    made: list[Function] = field(default_factory=list)
    helpers: set[str] = field(default_factory=set)
    """The run-time functions that they call."""

    def of(self, calls: Calls) -> dict[int, Call]:
        """Make a function of each routine. What calls them, by node."""
        called: dict[int, Call] = {}
        for routine in calls.routines:
            call = self._add(routine)
            for part in routine.parts:
                more = tuple(part.constants[at] for at in routine.varying)
                given = tuple(site.node for site in part.given)
                work = sum(self.work(self.graph, site.node) for site in part.inner)
                called[part.root.node] = call._replace(given=given, more=more, work=work)
        return called

    def _add(self, routine: Routine) -> Call:
        own, root = routine.graph, Site(routine.graph.state[0], EVERYWHERE)
        kinds, parameters, scope = self._parameters(routine)
        state = [local(name, kind) for name, kind in zip(parameters, kinds, strict=True)]
        idioms = idioms_of(own)
        needs = needs_around(own, [root.node], idioms, lambda at: self.work(own, at))
        first = routine.parts[0]
        words, owners = self._words(routine), self._owners(first, needs)
        writer = Writer(own, [], state, needs, words, owners, {}, idioms, cheap_flags(own, ()), scope)
        for site in needs.sites():
            if not site.place and site != root:
                writer.need(site)
        made, kind = writer.result(root), _kind(own, root.node)
        self.helpers |= writer.calls | made.calls
        lines = [line for piece in writer.pieces for line in piece.lines]
        lines += [*writer.lines, Line(0, f"return {fitted(kind, made).text};")]
        name = self.names.give(_function_name(self._owner(first)))
        heads = ", ".join(f"{kind} {name}" for kind, name in zip(kinds, parameters, strict=True))
        told = "; ".join(dict.fromkeys(self._told(part) for part in routine.parts))
        self.made.append(
            Function(comment_text(f"{name}: {told}."), f"static {kind} {name}({heads})", lines)
        )
        return Call(name, (), (), tuple(kinds), kind)

    def _parameters(self, routine: Routine) -> tuple[list[str], list[str], Identifiers]:
        """Types and names of what is handed over, and the scope these names are of."""
        own, given, scope = routine.graph, routine.parts[0].given, Identifiers()
        slots = {node.value: index for index, node in enumerate(own.nodes) if node.op is Op.STATE}
        kinds = [_kind(own, slots[number]) for number in range(len(own.slots))]
        for number, site in enumerate(given):
            if self.graph.nodes[site.node].kind is Kind.FLAG:
                kinds[number] = "bool"
        names = [scope.give(self._parameter(site.node)) for site in given]
        names += [scope.give("number") for _ in routine.varying]
        return kinds, names, scope

    def _parameter(self, index: int) -> str:
        node = self.graph.nodes[index]
        if node.op is Op.STATE:
            return f"{self.graph.slots[node.value].rsplit('.', 1)[-1]}_before"
        return self.titles[index][0].rsplit(".", 1)[-1] if index in self.titles else "given"

    def _words(self, routine: Routine) -> dict[int, Title]:
        """What stands inside is called, without the part of the robot, which differs from call to call."""
        first, words = routine.parts[0], {}
        for site in first.inner:
            names = self.titles.get(site.node)
            if names and site != first.root:
                said = " = ".join(dict.fromkeys(_trade(name).partition(", ")[2] for name in names))
                words[routine.moved[site]] = Title(names[0].rsplit(".", 1)[-1], said)
        return words

    def _owners(self, part: Part, needs: Needs) -> dict[int, str]:
        names = self.titles.get(part.root.node)
        return dict.fromkeys(needs.places, names[0].rsplit(".", 1)[-1] if names else "result")

    def _owner(self, part: Part) -> str:
        names = self.titles.get(part.root.node)
        return names[0] if names else self.graph.owner(part.root.node)

    def _told(self, part: Part) -> str:
        said = _trade(self._owner(part))
        return said if part.root.node in self.titles else f"toward {said}"


def _trade(name: str) -> str:
    return trade_name(name.removeprefix("next."))


def _function_name(title: str) -> str:
    parts = title.removeprefix("next.").split(".")
    return f"{parts[0]}.{parts[-1]}"


def _kind(graph: Graph, index: int) -> str:
    return type_of(graph.ranges[index]) if graph.nodes[index].kind is Kind.NUMBER else "bool"
