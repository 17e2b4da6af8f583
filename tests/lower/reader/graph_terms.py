"""The graph's nodes as terms, by the contracts, with the bounds that are proven of them."""

from collections.abc import Callable, Sequence

from mixer.lower.graph.nodes import Graph, Kind, Node, Op
from mixer.lower.graph.trace import input_ranges
from tests.lower.reader.terms import Flag, Number, Terms, opposite


class GraphTerms:
    """A term for each node of a graph."""

    def __init__(self, graph: Graph, terms: Terms) -> None:
        self.graph, self.terms = graph, terms
        self.inputs = [
            terms.variable(f"in{at}", reach) for at, reach in enumerate(input_ranges(graph.plan))
        ]
        self.state: list[Number] = []
        for slot, (twin, reach) in enumerate(zip(graph.twins, graph.state_ranges, strict=True)):
            self.state.append(self.state[twin] if twin < slot else terms.variable(f"state{slot}", reach))
        self.of: list[Number | Flag] = []
        self.make(lambda term: term)

    def make(self, known: Callable[[Number | Flag], Number | Flag]) -> None:
        """The terms anew: what is known of later nodes serves the earlier ones as well.

        `known` may give an equal term, which then stands for both.
        """
        self.of = []
        for index, node in enumerate(self.graph.nodes):
            term = self._term(node)
            if isinstance(term, Number):
                term = self.terms.named(self.terms.remember(term, self.graph.ranges[index]))
            found = known(term)
            if isinstance(found, Number):
                self.terms.remember(found, self.graph.ranges[index])
            self.of.append(found)
        for index, reach in zip(self.graph.state, self.graph.state_ranges, strict=True):
            self.terms.remember(self.number(index), reach)  # kept by each tick

    def number(self, index: int) -> Number:
        """The term of a node that is a number."""
        found = self.of[index]
        assert isinstance(found, Number)
        return found

    def _term(self, node: Node) -> Number | Flag:
        terms = self.terms
        if node.op is Op.CONST:
            return terms.constant(node.value)
        if node.op in (Op.INPUT, Op.STATE):
            return (self.inputs if node.op is Op.INPUT else self.state)[node.value]
        args = [self.of[arg] for arg in node.args]
        if node.kind is Kind.NUMBER:
            return self._number(node, args)
        return self._flag(node, args)

    def _number(self, node: Node, args: Sequence[Number | Flag]) -> Number:
        terms = self.terms
        flag = next((arg for arg in args if not isinstance(arg, Number)), False)
        a, b, c = ([arg for arg in args if isinstance(arg, Number)] * 3)[:3]
        made = {
            Op.ADD: lambda: terms.plus(a, b),
            Op.SUB: lambda: terms.minus(a, b),
            Op.NEG: lambda: terms.times(a, -1),
            Op.MULTIPLY: lambda: terms.product(a, b),
            Op.MUL14: lambda: self._rounded(a, b),
            Op.SHIFT_RIGHT: lambda: terms.shift(a, node.value),
            Op.DIVIDE: lambda: terms.quotient(a, b),
            Op.ABSOLUTE: lambda: terms.choose(terms.less(a, terms.constant(0)), terms.times(a, -1), a),
            Op.MINIMUM: lambda: terms.choose(terms.less(a, b), a, b),
            Op.MAXIMUM: lambda: terms.choose(terms.less(b, a), a, b),
            Op.CLAMP: lambda: terms.choose(terms.less(a, b), b, terms.choose(terms.less(c, a), c, a)),
            Op.SELECT: lambda: terms.choose(flag, a, b),
        }
        return made[node.op]()

    def _rounded(self, a: Number, b: Number) -> Number:
        """The Q14 product of the amounts to the nearest, halves up, with the sign of the product."""
        terms, nothing = self.terms, self.terms.constant(0)
        one, two = (terms.larger(number, terms.times(number, -1)) for number in (a, b))
        made = terms.shift(terms.plus(terms.product(one, two), terms.constant(8192)), 14)
        for number in (a, b):
            made = terms.choose(terms.less(number, nothing), terms.times(made, -1), made)
        return made

    def _flag(self, node: Node, args: Sequence[Number | Flag]) -> Flag:
        terms = self.terms
        numbers = [arg for arg in args if isinstance(arg, Number)]
        if numbers:
            a, b = numbers
            made = {
                Op.LESS: lambda: terms.less(a, b),
                Op.LESS_EQUAL: lambda: opposite(terms.less(b, a)),
                Op.EQUAL: lambda: terms.equal(a, b),
                Op.NOT_EQUAL: lambda: opposite(terms.equal(a, b)),
            }
            return made[node.op]()
        flags = [arg for arg in args if not isinstance(arg, Number)]
        if node.op is Op.NOT:
            return opposite(flags[0])
        return terms.both(*flags) if node.op is Op.AND else terms.either(*flags)
