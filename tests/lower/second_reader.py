"""A second reader of the exported C: parsed, read by the rules of C99, and proven equal to the graph.

Nothing of the emitter is used but the names of the interface. The text goes through pycparser; every
expression is read with C's own conversions (integer promotions, usual arithmetic conversions, casts), once
for an `int` of 16 bits and once for one of 32. Values are 64-bit vectors that hold the mathematical number,
so that what C leaves undefined or to the compiler (signed overflow, `>>` of a negative number, a cast that
does not fit, division by zero) is a question of its own, put to the solver beside the result.

Local by local: which node a local might be is guessed by running both on a drive; that it is that node is
proven for all values within the graph's ranges, the locals before it being free. So a mistake is found
where it is made, and not only where some vector happens to show it.
"""
# ruff: noqa: ANN401, D102, N802 - ints and terms alike, named after the parts of C they read

import itertools
import random
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import z3
from pycparser import c_ast, c_parser

from mixer.lower.c.program import header_text, interface_of, source_text
from mixer.lower.graph.nodes import Graph, Kind, Node, Op, Range
from mixer.lower.graph.trace import input_ranges, trace
from mixer.lower.run.python import compile_graph
from mixer.testing.evaluation import evaluate_nodes
from mixer.testing.inputs import rows

TYPES = {
    "int32_t": (32, True),
    "int16_t": (16, True),
    "uint32_t": (32, False),
    "uint16_t": (16, False),
}
BOOL = (8, False)
DRIVE = 90
ANYTHING = Range(-(2**62), 2**62)


class UnequalError(AssertionError):
    """The C is not the graph: where, and why."""


class Value(NamedTuple):
    """A number of C: what it is, and of which type."""

    term: Any
    """An int, or a 64-bit vector that holds the number itself."""
    width: int
    signed: bool
    truth: Any = None
    """The flag it was made from, where it was."""


class Duty(NamedTuple):
    """Something C leaves open, and the condition under which it is not."""

    path: Any
    holds: Any
    what: str


@dataclass
class Plain:
    """Numbers as ints: the C run."""

    duties: list[Duty] = field(default_factory=list)

    def choose(self, flag: Any, a: Any, b: Any) -> Any:
        return a if flag else b

    def both(self, *flags: Any) -> Any:
        return all(flags)

    def either(self, a: Any, b: Any) -> Any:
        return a or b

    def opposite(self, flag: Any) -> Any:
        return not flag

    def product(self, a: Any, b: Any) -> Any:
        return a * b

    def quotient(self, a: Any, b: Any) -> Any:
        return a // b if b else 0


class Solver:
    """Numbers as 64-bit vectors; a product or quotient of two unknowns is one more, the same for both."""

    def __init__(self) -> None:
        self.known: dict[int, tuple[Any, Any]] = {}
        """What holds of each unknown, by its place among the solver's terms."""
        self.facts: list[Any] = []
        """The ranges of what a node is made of, as far as it has no name of its own."""
        self.opaque: list[tuple[str, Any, Any, Any]] = []
        self.fresh = itertools.count()

    def number(self, name: str, reach: Range) -> Any:
        made = z3.BitVec(f"{name}#{next(self.fresh)}", 64)
        self.known[made.get_id()] = (made >= reach.low, made <= reach.high)
        return made

    def flag(self, name: str) -> Any:
        return z3.Bool(f"{name}#{next(self.fresh)}")

    def choose(self, flag: Any, a: Any, b: Any) -> Any:
        if isinstance(flag, bool):
            return a if flag else b
        return (
            a if isinstance(a, int) and isinstance(b, int) and a == b else z3.If(flag, _bits(a), _bits(b))
        )

    def both(self, *flags: Any) -> Any:
        return z3.And(*flags)

    def either(self, a: Any, b: Any) -> Any:
        return z3.Or(a, b)

    def opposite(self, flag: Any) -> Any:
        return z3.Not(flag)

    def product(self, a: Any, b: Any) -> Any:
        return a * b if isinstance(a, int) or isinstance(b, int) else self._shared("product", a, b)

    def quotient(self, a: Any, b: Any) -> Any:
        return self._shared("quotient", _bits(a), _bits(b))

    def _shared(self, kind: str, a: Any, b: Any, reach: Range = ANYTHING) -> Any:
        """The unknown of an equal operation, else a new one."""
        for known, c, d, made in self.opaque:
            orders = ((c, d), (d, c)) if kind == "product" else ((c, d),)
            if known == kind and any(self.proves(z3.And(a == x, b == y)) for x, y in orders):
                return made
        made = self.number(kind, reach)
        self.opaque.append((kind, a, b, made))
        return made

    def proves(self, claim: Any) -> bool:
        """Whether the claim follows from what is known."""
        simple = z3.simplify(claim) if z3.is_expr(claim) else z3.BoolVal(bool(claim))
        if z3.is_true(simple):
            return True
        solver = z3.SolverFor("QF_BV")
        solver.add(z3.Not(simple), *self.facts)
        for unknown in set[int]().union(*map(_leaves, (simple, *self.facts))):
            solver.add(*self.known.get(unknown, ()))
        return bool(solver.check() == z3.unsat)


def _leaves(term: Any) -> set[int]:
    """The unknowns a term speaks of."""
    found, waiting, seen = set(), [term], set()
    while waiting:
        part = waiting.pop()
        if part.get_id() in seen:
            continue
        seen.add(part.get_id())
        if part.num_args() == 0:
            found.add(part.get_id())
        waiting += part.children()
    return found


def _bits(value: Any) -> Any:
    return z3.BitVecVal(value, 64) if isinstance(value, int) else value


# ---- C99 -------------------------------------------------------------------------------------------


class Reader:
    """Expressions of C, in ints or in the solver's numbers."""

    def __init__(self, functions: Mapping[str, c_ast.FuncDef], on: Any, int_width: int) -> None:
        self.functions, self.on, self.int = functions, on, int_width
        self.duties: list[Duty] = []
        self.path: list[Any] = []
        self.places: dict[str, dict[str, Value]] = {}
        """What `in`, `state` and `out` point at."""

    def convert(self, value: Value, kind: tuple[int, bool]) -> Value:
        width, signed = kind
        if kind == BOOL:
            return self.said(self.truth(value))
        top = 2 ** (width - signed) - 1
        if not signed:
            fits = not value.signed and value.width <= width
            return Value(value.term if fits else self.masked(value.term, width), width, False)
        if value.width - value.signed > width - 1:
            self.duty("a cast that does not fit", value.term >= -top - 1, value.term <= top)
        return Value(value.term, width, True)

    def masked(self, term: Any, width: int) -> Any:
        return term & (2**width - 1)

    def truth(self, value: Value) -> Any:
        return value.truth if value.truth is not None else value.term != 0

    def said(self, flag: Any) -> Value:
        """A flag as C's 0 or 1; its type counts as narrower than int."""
        return Value(self.on.choose(flag, 1, 0), *BOOL, flag)

    def promoted(self, value: Value) -> Value:
        if value.width < self.int:
            return value._replace(width=self.int, signed=True)
        return value

    def common(self, a: Value, b: Value) -> tuple[int, bool]:
        a, b = self.promoted(a), self.promoted(b)
        width = max(a.width, b.width)
        if a.signed == b.signed:
            return width, a.signed
        unsigned = a if not a.signed else b
        return width, unsigned.width < width

    def duty(self, what: str, *holds: Any) -> None:
        self.duties.append(Duty(self.on.both(*self.path, True), self.on.both(*holds), what))

    def result(self, term: Any, kind: tuple[int, bool], what: str) -> Value:
        """The outcome of an operation: wrapped where unsigned, within its type where signed."""
        width, signed = kind
        if not signed:
            return Value(self.masked(term, width), width, False)
        self.duty(f"{what} overflows", term >= -(2 ** (width - 1)), term <= 2 ** (width - 1) - 1)
        return Value(term, width, True)

    def read(self, node: Any, names: Mapping[str, Value]) -> Value:
        """An expression's value."""
        return getattr(self, f"_{type(node).__name__}")(node, names)

    def _Constant(self, node: Any, _: Any) -> Value:
        unsigned = node.value.endswith("u")
        number = int(node.value.rstrip("u"))
        fits = number < 2 ** (self.int - (not unsigned))
        return Value(number, self.int if fits else 32, not unsigned)

    def _ID(self, node: Any, names: Mapping[str, Value]) -> Value:
        return Value(-(2**31), 32, True) if node.name == "INT32_MIN" else names[node.name]

    def _StructRef(self, node: Any, _: Any) -> Value:
        return self.places[node.name.name][node.field.name]

    def _Cast(self, node: Any, names: Mapping[str, Value]) -> Value:
        return self.convert(self.read(node.expr, names), self.type_of(node.to_type.type))

    def _TernaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        flag = self.truth(self.read(node.cond, names))
        arms = [
            self._under(node.iftrue, names, flag),
            self._under(node.iffalse, names, self.on.opposite(flag)),
        ]
        kind = self.common(*arms)
        a, b = (self.convert(arm, kind) for arm in arms)
        return Value(self.on.choose(flag, a.term, b.term), *kind)

    def _under(self, node: Any, names: Mapping[str, Value], flag: Any) -> Value:
        """Read only where the flag holds."""
        self.path.append(flag)
        found = self.read(node, names)
        self.path.pop()
        return found

    def _UnaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        value = self.read(node.expr, names)
        if node.op == "!":
            return self.said(self.on.opposite(self.truth(value)))
        value = self.promoted(value)
        terms = {"-": lambda: -value.term, "~": lambda: -value.term - 1, "+": lambda: value.term}
        return self.result(terms[node.op](), (value.width, value.signed), node.op)

    def _BinaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        left = self.read(node.left, names)
        if node.op in ("&&", "||"):
            first = self.truth(left)
            stands = first if node.op == "&&" else self.on.opposite(first)
            second = self.truth(self._under(node.right, names, stands))
            join = self.on.both if node.op == "&&" else self.on.either
            return self.said(join(first, second))
        right = self.read(node.right, names)
        if node.op == ">>":
            left, right = self.promoted(left), self.promoted(right)
            self.duty("a shift beyond the width", right.term >= 0, right.term < left.width)
            self.duty(">> of a negative number", left.term >= 0)
            return Value(left.term >> right.term, left.width, left.signed)
        kind = self.common(left, right)
        a, b = self.convert(left, kind).term, self.convert(right, kind).term
        compared = {
            "<": lambda: a < b, "<=": lambda: a <= b, ">": lambda: a > b, ">=": lambda: a >= b,
            "==": lambda: a == b, "!=": lambda: a != b,
        }  # fmt: skip
        if node.op in compared:
            return self.said(compared[node.op]())
        if node.op == "/":
            self.duty("a division by zero or of a negative number", b > 0, a >= 0)
            return Value(self.on.quotient(a, b), *kind)
        if node.op == "&" and isinstance(b, int) and (b & (b + 1)) == 0 and not kind[1]:
            return Value(a & b, *kind)
        made = {"+": lambda: a + b, "-": lambda: a - b, "*": lambda: self.on.product(a, b)}
        return self.result(made[node.op](), kind, node.op)

    def _FuncCall(self, node: Any, names: Mapping[str, Value]) -> Value:
        given = [self.read(argument, names) for argument in node.args.exprs]
        if node.name.name == "INT32_C":
            return given[0]._replace(width=32, signed=True)
        function = self.functions[node.name.name]
        own: dict[str, Value] = {}
        for parameter, value in zip(function.decl.type.args.params, given, strict=True):
            own[parameter.name] = self.convert(value, self.type_of(parameter.type))
        for statement in function.body.block_items:
            if isinstance(statement, c_ast.Return):
                return self.convert(self.read(statement.expr, own), self.type_of(function.decl.type.type))
            own[statement.name] = self.convert(self.read(statement.init, own), self.type_of(statement.type))
        raise UnequalError(f"{node.name.name} gives nothing back")

    def type_of(self, node: Any) -> tuple[int, bool]:
        """Width and whether signed; a plain int has the board's width."""
        named = {**TYPES, "bool": BOOL, "int": (self.int, True)}
        return named[node.type.names[0]]


def parsed(text: str) -> dict[str, c_ast.FuncDef]:
    """The functions of a C text whose preprocessor lines say nothing that matters here."""
    without = re.sub(r"#ifdef __cplusplus\n.*?#endif", "", text, flags=re.DOTALL)
    plain = re.sub(r"/\*.*?\*/|^#.*?$", "", without, flags=re.DOTALL | re.MULTILINE)
    typedefs = "".join(f"typedef int {name};\n" for name in (*TYPES, "bool"))
    tree = c_parser.CParser().parse(typedefs + plain)
    return {item.decl.name: item for item in tree.ext if isinstance(item, c_ast.FuncDef)}


# ---- The graph -------------------------------------------------------------------------------------


class Meaning:
    """The graph's nodes as the solver's numbers, by the contracts; what is matched stands for itself."""

    def __init__(self, graph: Graph, on: Solver) -> None:
        self.graph, self.on = graph, on
        self.cut: dict[int, Any] = {}
        limits = input_ranges(graph.plan)
        self.inputs = [on.number(f"in{number}", reach) for number, reach in enumerate(limits)]
        self.state: list[Any] = []
        for slot, (twin, reach) in enumerate(zip(graph.twins, graph.state_ranges, strict=True)):
            self.state.append(self.state[twin] if twin < slot else on.number(f"state{slot}", reach))

    def of(self, index: int) -> Any:
        """A node's term, down to what is matched."""
        return self.cut[index] if index in self.cut else self.anew(index)

    def anew(self, index: int) -> Any:
        """The same, even where the node itself is matched: two locals may be equal for a reason."""
        node = self.graph.nodes[index]
        if node.op is Op.CONST:
            return node.value
        if node.op in (Op.INPUT, Op.STATE):
            return (self.inputs if node.op is Op.INPUT else self.state)[node.value]
        made = self._made(node, [self.of(arg) for arg in node.args], self.graph.ranges[index])
        if node.kind is Kind.NUMBER and not isinstance(made, int):
            self.on.facts += [made >= self.graph.ranges[index].low, made <= self.graph.ranges[index].high]
        return made

    def _made(self, node: Node, args: list[Any], reach: Range) -> Any:
        a, b, c = (*args, None, None, None)[:3]
        choose = self.on.choose
        made = {
            Op.ADD: lambda: a + b,
            Op.SUB: lambda: a - b,
            Op.NEG: lambda: -a,
            Op.MULTIPLY: lambda: self._product(node, a, b),
            Op.MUL14: lambda: self._rounded(self._product(node, a, b)),
            Op.SHIFT_RIGHT: lambda: a >> node.value,
            Op.DIVIDE: lambda: self.on._shared("quotient", _bits(a), _bits(b), reach),
            Op.ABSOLUTE: lambda: choose(a < 0, -a, a),
            Op.MINIMUM: lambda: choose(a < b, a, b),
            Op.MAXIMUM: lambda: choose(a > b, a, b),
            Op.CLAMP: lambda: choose(a < b, b, choose(a > c, c, a)),
            Op.SELECT: lambda: choose(a, b, c),
            Op.LESS: lambda: a < b,
            Op.LESS_EQUAL: lambda: a <= b,
            Op.EQUAL: lambda: a == b,
            Op.NOT_EQUAL: lambda: a != b,
            Op.AND: lambda: z3.And(a, b),
            Op.OR: lambda: z3.Or(a, b),
            Op.NOT: lambda: z3.Not(a),
        }
        return made[node.op]()

    def _rounded(self, p: Any) -> Any:
        return (p + 8192 + self.on.choose(p < 0, -1, 0)) >> 14

    def _product(self, node: Node, a: Any, b: Any) -> Any:
        if isinstance(a, int) or isinstance(b, int):
            return a * b
        first, second = (self.graph.ranges[arg] for arg in node.args)
        corners = [x * y for x in first for y in second]
        if node.args[0] == node.args[1]:
            corners = [x * x for x in first] + ([0] if first.low <= 0 <= first.high else [])
        return self.on._shared("product", a, b, Range(min(corners), max(corners)))


# ---- Both together ---------------------------------------------------------------------------------


@dataclass
class Tick:
    """`mix_tick` of one export, and the graph it should be."""

    graph: Graph
    functions: Mapping[str, c_ast.FuncDef]
    int_width: int

    def statements(self) -> Sequence[Any]:
        found: Sequence[Any] = self.functions["mix_tick"].body.block_items
        return found

    def fields(self) -> dict[str, dict[str, str]]:
        """For `in`, `state` and `out` the signal or slot behind each member."""
        shape = interface_of(self.graph)
        members = {"in": shape.inputs, "state": shape.state, "out": shape.outputs}
        return {place: {item.identifier: item.name for item in items} for place, items in members.items()}


def prove_export(graph: Graph, text: str, int_width: int = 32) -> int:
    """Prove the C text to be the graph; how many of its locals and members were. Raises UnequalError."""
    tick = Tick(graph, parsed(text), int_width)
    fields = tick.fields()
    _check_start(tick, fields["state"])
    likely, meaning = _likely_nodes(tick), Meaning(graph, Solver())
    reader = Reader(tick.functions, meaning.on, int_width)
    by_slot = dict(zip(graph.slots, meaning.state, strict=True))
    by_input = dict(zip(fields["in"], meaning.inputs, strict=True))
    reader.places = {
        "in": {member: Value(term, 32, True) for member, term in by_input.items()},
        "state": {member: Value(by_slot[slot], 32, True) for member, slot in fields["state"].items()},
    }
    after = dict(zip(graph.slots, graph.state, strict=True))
    wanted = {("state", member): after[slot] for member, slot in fields["state"].items()}
    wanted |= {("out", member): graph.signals[signal] for member, signal in fields["out"].items()}
    names: dict[str, Value] = {}
    for statement in tick.statements():
        if isinstance(statement, c_ast.Assignment):
            place = (statement.lvalue.name.name, statement.lvalue.field.name)
            if place not in wanted:
                raise UnequalError(f"{'->'.join(place)} is written twice, or is no member")
            node = [wanted.pop(place)]
            _settle(reader, meaning, statement.rvalue, names, node, "->".join(place), (32, True))
            reader.places.get(place[0], {}).pop(place[1], None)
        else:
            kind, name = reader.type_of(statement.type), statement.name
            nodes = _settle(reader, meaning, statement.init, names, likely[name], name, kind)
            names[name] = _free(meaning, nodes, name, kind)
    if wanted:
        raise UnequalError(f"never written: {', '.join('->'.join(place) for place in wanted)}")
    return len(tick.statements())


def _check_start(tick: Tick, members: Mapping[str, str]) -> None:
    """`mix_start` writes the start values, each once."""
    start = dict(zip(tick.graph.slots, tick.graph.start, strict=True))
    wanted = {member: start[slot] for member, slot in members.items()}
    reader = Reader(tick.functions, Plain(), tick.int_width)
    for statement in tick.functions["mix_start"].body.block_items:
        member = statement.lvalue.field.name
        if wanted.pop(member, None) != reader.read(statement.rvalue, {}).term:
            raise UnequalError(f"mix_start: state->{member} is not what a board starts with")
    if wanted:
        raise UnequalError(f"mix_start does not write {', '.join(wanted)}")


def _settle(
    reader: Reader,
    meaning: Meaning,
    init: Any,
    names: Mapping[str, Value],
    nodes: Sequence[int],
    what: str,
    kind: tuple[int, bool],
) -> list[int]:
    """The nodes an expression is proven to be, nothing it does being left open."""
    found: list[int] = []
    wanted = Kind.FLAG if kind == BOOL else Kind.NUMBER
    for index in (index for index in nodes if meaning.graph.nodes[index].kind is wanted):
        meaning.on.facts = []
        goals = [meaning.of(index), *([meaning.anew(index)] if index in meaning.cut else [])]
        reader.duties = []
        value = reader.convert(reader.read(init, names), kind)
        said = reader.truth(value) if wanted is Kind.FLAG else _bits(value.term)
        if not any(meaning.on.proves(said == (g if wanted is Kind.FLAG else _bits(g))) for g in goals):
            continue
        for duty in () if found else reader.duties:
            if not meaning.on.proves(z3.Implies(duty.path, duty.holds)):
                raise UnequalError(f"{what}: {duty.what} is possible")
        found.append(index)
    if not found:
        likely = [meaning.graph.label(index) or f"node {index}" for index in nodes]
        raise UnequalError(f"{what} is none of what it might be: {', '.join(likely)}")
    return found


def _free(meaning: Meaning, nodes: Sequence[int], name: str, kind: tuple[int, bool]) -> Value:
    """A local that is proven to be a node stands for it from now on, as any value within its range."""
    first = meaning.graph.nodes[nodes[0]]
    if first.kind is Kind.FLAG:
        flag = meaning.cut.get(nodes[0], meaning.on.flag(name))
        meaning.cut = dict.fromkeys(nodes, flag) | meaning.cut
        return Value(z3.If(flag, _bits(1), _bits(0)), *BOOL, flag)
    if first.op in (Op.INPUT, Op.STATE):
        return Value(meaning.of(nodes[0]), *kind)
    number = meaning.cut.get(nodes[0])
    number = meaning.on.number(name, meaning.graph.ranges[nodes[0]]) if number is None else number
    meaning.cut = dict.fromkeys(nodes, number) | meaning.cut
    return Value(number, *kind)


def _likely_nodes(tick: Tick) -> dict[str, list[int]]:
    """For each local the nodes with the same values over a drive. Raises UnequalError where none has."""
    graph, fields = tick.graph, tick.fields()
    seen: dict[str, list[int]] = defaultdict(list)
    runs: list[list[int]] = []
    for inputs, state in _drive(graph):
        runs.append([int(value) for value in evaluate_nodes(graph, inputs, state)])
        reader = Reader(tick.functions, Plain(), tick.int_width)
        by_slot = dict(zip(graph.slots, state, strict=True))
        reader.places = {
            "in": {name: Value(value, 32, True) for name, value in zip(fields["in"], inputs, strict=True)},
            "state": {name: Value(by_slot[slot], 32, True) for name, slot in fields["state"].items()},
        }
        names: dict[str, Value] = {}
        for statement in tick.statements():
            if isinstance(statement, c_ast.Decl):
                value = reader.convert(reader.read(statement.init, names), reader.type_of(statement.type))
                names[statement.name] = value
                seen[statement.name].append(int(value.term))
    nodes: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for index, column in enumerate(zip(*runs, strict=True)):
        nodes[column].append(index)
    unlike = [name for name, column in seen.items() if tuple(column) not in nodes]
    if unlike:
        raise UnequalError(f"{unlike[0]} has values over a drive that no node has")
    return {name: nodes[tuple(column)] for name, column in seen.items()}


def _drive(graph: Graph) -> Iterator[tuple[Sequence[int], Sequence[int]]]:
    """Inputs and states from here and there of a drive: what is likely may be found by any engine."""
    state: Sequence[int] = graph.start
    one_tick = compile_graph(graph)
    for number, row in enumerate(rows(graph.plan, 50 * DRIVE, random.Random(7))):
        if number % 50 == 0:
            yield row, state
        _, state = one_tick(row, state)


def export_text(plan: Any) -> str:
    """Header and source of an export, as one text."""
    return header_text(plan, "0" * 12) + source_text(plan, "0" * 12)


def prove_plan(plan: Any, int_width: int = 32) -> int:
    """The export of a plan against its own graph."""
    return prove_export(trace(plan), export_text(plan), int_width)
