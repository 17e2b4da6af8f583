"""C99 read into terms: what a function leaves behind, and that nothing in it is left open by the standard.

Integer promotions, usual arithmetic conversions, casts, assignments, choices, calls and loops whose ends
are known, for an `int` of 16 bits or of 32. Signed overflow, a conversion that does not fit, a shift of a
negative number or beyond the width, a division by zero and a variable without a value are each refused,
whatever compilers make of them.
"""
# ruff: noqa: ANN401, N802 - the parser's nodes have no types, and give the methods their names

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from pycparser import c_ast, c_parser

from mixer.lower.graph.nodes import Range
from tests.lower.reader.judge import Judge
from tests.lower.reader.preprocess import UnequalError, preprocessed
from tests.lower.reader.terms import Flag, Number, opposite

MOST_ROUNDS = 64
STRUCTS = ("in", "state", "out")
"""The structs of a tick, by the names of the pointers to them."""


class Type(NamedTuple):
    """An integer type."""

    width: int
    signed: bool

    @property
    def reach(self) -> Range:
        """The numbers it holds."""
        return (
            Range(-(2 ** (self.width - 1)), 2 ** (self.width - 1) - 1)
            if self.signed
            else Range(0, 2**self.width - 1)
        )


BOOL = Type(1, signed=False)
EXACT = {
    f"{'' if signed else 'u'}int{w}_t": Type(w, signed=signed)
    for w in (8, 16, 32)
    for signed in (True, False)
}


class Value(NamedTuple):
    """A number of C and its type."""

    number: Number
    type: Type
    truth: Flag | None = None
    """The flag it was made from, where it was."""


class Table(NamedTuple):
    """An array of numbers that are never written."""

    type: Type
    values: tuple[int, ...]
    in_flash: bool
    """Where an AVR reads it by instructions of its own, and by those alone."""


@dataclass
class Source:
    """A C text taken apart."""

    functions: dict[str, Any] = field(default_factory=dict)
    structs: dict[str, dict[str, str]] = field(default_factory=dict)
    """Type of each member, by the struct's name."""
    enums: dict[str, int] = field(default_factory=dict)
    tables: dict[str, Table] = field(default_factory=dict)


def parsed(text: str, int_width: int) -> Source:
    """A C text as a compiler of this width of `int` has it; the one of 16 bits is an AVR's."""
    plain = preprocessed(text, {"__GNUC__", "__AVR__"} if int_width == 16 else {"__GNUC__"})
    plain = re.sub(r"__attribute__\(\(noinline\)\)", "", plain)  # how to call it, not what it does
    in_flash = set(re.findall(r"(\w+)\s*\[[^]]*\]\s*PROGMEM\b", plain))
    plain = re.sub(r"\bPROGMEM\b", "", plain)
    names = (*EXACT, "bool", *(name.replace("int", "int_fast") for name in EXACT))
    tree = c_parser.CParser().parse("".join(f"typedef int {name};\n" for name in names) + plain)
    source = Source()
    for item in tree.ext:
        if isinstance(item, c_ast.FuncDef):
            source.functions[item.decl.name] = item
        elif isinstance(item, c_ast.Decl) and isinstance(item.type, c_ast.Struct):
            members = {member.name: member.type.type.names[0] for member in item.type.decls}
            source.structs[item.type.name] = members
        elif isinstance(item, c_ast.Decl) and isinstance(item.type, c_ast.Enum):
            source.enums |= {each.name: int(each.value.value) for each in item.type.values.enumerators}
        elif isinstance(item, c_ast.Decl) and isinstance(item.type, c_ast.ArrayDecl):
            table = _table(item, in_flash)
            source.tables |= {item.name: table} if table else {}
    return source


def _table(item: Any, in_flash: set[str]) -> Table | None:
    """The numbers of an array that is never written; those that are left out are 0."""
    kind = item.type.type.type.names[0]
    if (
        kind not in EXACT
        or "const" not in item.type.type.quals
        or not isinstance(item.init, c_ast.InitList)
    ):
        return None
    values = [_number(each) for each in item.init.exprs]
    length = len(values) if item.type.dim is None else _number(item.type.dim)
    reach = EXACT[kind].reach
    if len(values) > length or any(not reach.low <= value <= reach.high for value in values):
        raise UnequalError(f"{item.name}: a number too many, or one that does not fit")
    return Table(EXACT[kind], (*values, *[0] * (length - len(values))), item.name in in_flash)


def _number(node: Any) -> int:
    """A number that is written out."""
    if isinstance(node, c_ast.UnaryOp) and node.op == "-":
        return -_number(node.expr)
    if not isinstance(node, c_ast.Constant):
        raise UnequalError("a table's number that is not written out")
    return int(node.value.rstrip("uUlL"), 0)


class Reader:
    """Runs functions on terms."""

    def __init__(
        self, source: Source, judge: Judge, int_width: int, known: Callable[[Value], Value]
    ) -> None:
        self.source, self.judge, self.known = source, judge, known
        """`known` may give an equal value that is better known."""
        self.terms = judge.terms
        self.int = Type(int_width, signed=True)
        self.types = {**EXACT, "bool": BOOL, "int": self.int}
        for width in (8, 16, 32):
            fast = width if width == 8 and int_width == 16 else max(width, int_width)
            self.types[f"int_fast{width}_t"] = Type(fast, signed=True)
            self.types[f"uint_fast{width}_t"] = Type(fast, signed=False)
        self.path: list[Flag] = []
        self.memory: dict[str, Value] = {}
        """Members of structs, `state->x`."""
        self.members: dict[str, Type] = {}
        """Their types; those of a pointer to const are missing."""
        self.where: list[str] = []

    # ---- what must hold ----

    def refuse(self, what: str) -> UnequalError:
        """The error for something here."""
        return UnequalError(f"{' in '.join(reversed(self.where))}: {what}")

    def need(self, what: str, *claims: Flag) -> None:
        """Raises UnequalError unless the claims hold wherever this is reached."""
        for claim in claims:
            if not self.judge.holds(claim, self.path):
                raise self.refuse(f"{what} is possible")

    def need_within(self, what: str, number: Number, reach: Range) -> None:
        """The same for bounds."""
        held = self.terms.reach(number)
        if held.low < reach.low:
            self.need(what, opposite(self.terms.less(number, self.terms.constant(reach.low))))
        if held.high > reach.high:
            self.need(what, opposite(self.terms.less(self.terms.constant(reach.high), number)))

    # ---- types ----

    def convert(self, value: Value, kind: Type) -> Value:
        """As by a cast or an assignment."""
        if kind == BOOL:
            return self.said(self.truth(value))
        if value.type.reach.low >= kind.reach.low and value.type.reach.high <= kind.reach.high:
            return value._replace(type=kind)
        if not kind.signed:
            return Value(self.terms.mask(self._amount(value.number), kind.width), kind)
        self.need_within("a conversion that does not fit", value.number, kind.reach)
        return Value(value.number, kind)

    def _amount(self, number: Number) -> Number:
        """A number that is not negative here, as the larger of itself and its opposite: that never is."""
        if self.terms.reach(number).low >= 0:
            return number
        negative = self.terms.less(number, self.terms.constant(0))
        if not self.judge.holds(opposite(negative), self.path):
            return number
        return self.terms.larger(number, self.terms.times(number, -1))

    def truth(self, value: Value) -> Flag:
        """Whether it is not 0."""
        if value.truth is not None:
            return value.truth
        return opposite(self.terms.equal(value.number, self.terms.constant(0)))

    def said(self, flag: Flag, kind: Type = BOOL) -> Value:
        """A flag as C's 0 or 1."""
        number = self.terms.choose(flag, self.terms.constant(1), self.terms.constant(0))
        return Value(number, kind, flag)

    def promoted(self, value: Value) -> Value:
        """Whatever is narrower than int becomes one, for int holds it."""
        return value._replace(type=self.int) if value.type.width < self.int.width else value

    def common(self, a: Value, b: Value) -> Type:
        """The type two operands meet in."""
        one, two = self.promoted(a).type, self.promoted(b).type
        width = max(one.width, two.width)
        if one.signed == two.signed:
            return Type(width, signed=one.signed)
        unsigned = two if one.signed else one
        return Type(width, signed=unsigned.width < width)

    def result(self, number: Number, kind: Type, what: str) -> Value:
        """Wrapped where unsigned, within its type where signed."""
        if not kind.signed:
            return Value(self.terms.mask(number, kind.width), kind)
        self.need_within(f"an overflow of {what}", number, kind.reach)
        return Value(number, kind)

    # ---- expressions ----

    def read(self, node: Any, names: Mapping[str, Value]) -> Value:
        """An expression's value."""
        method = getattr(self, f"_{type(node).__name__}", None)
        if method is None:
            raise self.refuse(f"{type(node).__name__} is nothing this reader knows")
        found: Value = method(node, names)
        return found

    def _Constant(self, node: Any, _: Any) -> Value:
        digits, suffix = re.fullmatch(r"(0[xX][0-9a-fA-F]+|\d+)([uUlL]*)", node.value).groups()
        number, suffix = int(digits, 0), suffix.lower()
        unsigned, hexadecimal = "u" in suffix, digits.lower().startswith("0x")
        for width in (32,) if "l" in suffix else (self.int.width, 32):
            for signed in (False,) if unsigned else (True, False) if hexadecimal else (True,):
                if number <= Type(width, signed=signed).reach.high:
                    return Value(self.terms.constant(number), Type(width, signed=signed))
        raise self.refuse(f"{node.value} needs more than 32 bits")

    def _ID(self, node: Any, names: Mapping[str, Value]) -> Value:
        if node.name == "INT32_MIN":
            return Value(self.terms.constant(-(2**31)), EXACT["int32_t"])
        if node.name in ("true", "false"):
            return self.said(node.name == "true", self.int)
        if node.name in self.source.enums:
            return Value(self.terms.constant(self.source.enums[node.name]), self.int)
        if node.name not in names:
            raise self.refuse(f"{node.name} has no value")
        return names[node.name]

    def _StructRef(self, node: Any, _: Any) -> Value:
        place = f"{node.name.name}->{node.field.name}"
        if place not in self.memory:
            raise self.refuse(f"{place} has no value")
        return self.memory[place]

    def _ArrayRef(self, node: Any, names: Mapping[str, Value]) -> Value:
        return self._entry(node, names, in_flash=False)

    def _entry(self, node: Any, names: Mapping[str, Value], *, in_flash: bool) -> Value:
        """One number of a table, read where it lies."""
        table = self.source.tables.get(node.name.name)
        if table is None or node.name.name in names:
            raise self.refuse(f"{node.name.name} is no table this reader knows")
        if table.in_flash != in_flash:
            raise self.refuse(f"{node.name.name} is not read where it lies")
        index = self.read(node.subscript, names).number
        ends = Range(0, len(table.values) - 1)
        self.need_within(f"an index of {node.name.name} out of bounds", index, ends)
        return Value(self.terms.entry(table.values, index), table.type)

    def _from_flash(self, node: Any, names: Mapping[str, Value]) -> Value:
        """What an AVR's instructions for flash give: the bits, as a number that is not negative."""
        kind = EXACT["uint8_t" if node.name.name == "pgm_read_byte" else "uint16_t"]
        (address,) = node.args.exprs
        if not (isinstance(address, c_ast.UnaryOp) and isinstance(address.expr, c_ast.ArrayRef)):
            raise self.refuse("an address this reader does not know")
        found = self._entry(address.expr, names, in_flash=True)
        if address.op != "&" or found.type.width != kind.width:
            raise self.refuse(f"{node.name.name} of something else is possible")
        return self.convert(found, kind)

    def _Cast(self, node: Any, names: Mapping[str, Value]) -> Value:
        return self.convert(self.read(node.expr, names), self.type_of(node.to_type.type))

    def _TernaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        flag = self.truth(self.read(node.cond, names))
        arms = [self._under(node.iftrue, names, flag), self._under(node.iffalse, names, opposite(flag))]
        kind = self.common(*arms)
        a, b = (self.convert(arm, kind) for arm in arms)
        return Value(self.terms.choose(flag, a.number, b.number), kind)

    def _under(self, node: Any, names: Mapping[str, Value], flag: Flag) -> Value:
        """Read where the flag holds, and only there."""
        self.path.append(flag)
        found = self.read(node, names)
        self.path.pop()
        return found

    def _UnaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        value = self.read(node.expr, names)
        if node.op == "!":
            return self.said(opposite(self.truth(value)), self.int)
        value = self.promoted(value)
        turned = self.terms.times(value.number, -1)
        if node.op == "~":
            return self.result(self.terms.plus(turned, self.terms.constant(-1)), value.type, "~")
        return self.result(turned if node.op == "-" else value.number, value.type, node.op)

    def _BinaryOp(self, node: Any, names: Mapping[str, Value]) -> Value:
        left = self.read(node.left, names)
        if node.op in ("&&", "||"):
            return self._joined(node, left, names)
        right = self.read(node.right, names)
        if node.op in ("<<", ">>"):
            return self._shifted(node.op, self.promoted(left), self.promoted(right))
        kind = self.common(left, right)
        a, b = self.convert(left, kind).number, self.convert(right, kind).number
        if node.op in ("<", ">", "<=", ">=", "==", "!="):
            return self.said(self._compared(node.op, a, b), self.int)
        if node.op == "&":
            return self._masked(a, b, kind)
        return self.result(self._calculated(node.op, a, b), kind, node.op)

    def _joined(self, node: Any, left: Value, names: Mapping[str, Value]) -> Value:
        first = self.truth(left)
        goes_on = first if node.op == "&&" else opposite(first)
        second = self.truth(self._under(node.right, names, goes_on))
        join = self.terms.both if node.op == "&&" else self.terms.either
        return self.said(join(first, second), self.int)

    def _shifted(self, op: str, left: Value, right: Value) -> Value:
        if right.number.parts or not 0 <= right.number.constant < left.type.width:
            raise self.refuse("a shift by an unknown number, or beyond the width, is possible")
        self.need(
            f"{op} of a negative number", opposite(self.terms.less(left.number, self.terms.constant(0)))
        )
        if op == ">>":
            return left._replace(number=self.terms.shift(left.number, right.number.constant), truth=None)
        return self.result(self.terms.times(left.number, 2**right.number.constant), left.type, op)

    def _compared(self, op: str, a: Number, b: Number) -> Flag:
        if op in ("==", "!="):
            equal = self.terms.equal(a, b)
            return equal if op == "==" else opposite(equal)
        less = self.terms.less(a, b) if op in ("<", ">=") else self.terms.less(b, a)
        return less if op in ("<", ">") else opposite(less)

    def _masked(self, a: Number, b: Number, kind: Type) -> Value:
        a, b = (b, a) if b.parts else (a, b)
        if not a.parts and min(a.constant, b.constant) >= 0:
            return Value(self.terms.constant(a.constant & b.constant), kind)
        if b.parts or b.constant < 0 or b.constant & (b.constant + 1):
            raise self.refuse("& with anything but the lowest bits is nothing this reader knows")
        if kind.signed:
            self.need("& of a negative number", opposite(self.terms.less(a, self.terms.constant(0))))
        return Value(self.terms.mask(a, b.constant.bit_length()), kind)

    def _calculated(self, op: str, a: Number, b: Number) -> Number:
        if op == "/":
            nothing = self.terms.constant(0)
            self.need("a division by zero or of a negative number", self.terms.less(nothing, b),
                      opposite(self.terms.less(a, nothing)))  # fmt: skip
            return self.terms.quotient(a, b)
        made = {"+": self.terms.plus, "-": self.terms.minus, "*": self.terms.product}
        if op not in made:
            raise self.refuse(f"{op} is nothing this reader knows")
        return made[op](a, b)

    def _FuncCall(self, node: Any, names: Mapping[str, Value]) -> Value:
        if node.name.name in ("pgm_read_byte", "pgm_read_word"):
            return self._from_flash(node, names)
        given = [self.read(argument, names) for argument in node.args.exprs]
        if node.name.name in ("INT32_C", "UINT32_C"):
            return self.convert(given[0], EXACT["int32_t" if node.name.name == "INT32_C" else "uint32_t"])
        function = self.source.functions[node.name.name]
        kind = self.type_of(function.decl.type.type)
        own: dict[str, Value] = {}
        for parameter, value in zip(function.decl.type.args.params, given, strict=True):
            self._hand_over(parameter, value, own)
        self.where.append(node.name.name)
        found = self.run(function.body.block_items, own)
        if found is None:
            raise self.refuse("gives nothing back")
        self.where.pop()
        return self.known(self.convert(found, kind))

    def _hand_over(self, parameter: Any, value: Value, own: dict[str, Value]) -> None:
        """A parameter is a variable of its own, with the value that was given."""
        kind = self.type_of(parameter.type)
        own[parameter.name] = self.known(self.convert(value, kind))
        own[f" {parameter.name}"] = Value(self.terms.constant(0), kind)

    def _carry_out(self, node: Any, names: Mapping[str, Value]) -> None:
        """A call for what it does: structs are handed on under the names that they have everywhere."""
        function = self.source.functions[node.name.name]
        own: dict[str, Value] = {}
        for parameter, given in zip(function.decl.type.args.params, node.args.exprs, strict=True):
            if not isinstance(parameter.type, c_ast.PtrDecl):
                self._hand_over(parameter, self.read(given, names), own)
            elif (
                parameter.name not in STRUCTS
                or not isinstance(given, c_ast.ID)
                or given.name != parameter.name
            ):
                raise self.refuse(f"{parameter.name} is not the struct of that name")
        if function.decl.type.type.type.names != ["void"]:
            raise self.refuse(f"what {node.name.name} gives back is lost")
        self.where.append(node.name.name)
        self.run(function.body.block_items, own)
        self.where.pop()

    def type_of(self, node: Any) -> Type:
        """Width and whether signed."""
        name = node.type.names[0] if isinstance(node.type, c_ast.IdentifierType) else ""
        if name not in self.types:
            raise self.refuse(f"a type this reader does not know: {name or type(node.type).__name__}")
        return self.types[name]

    # ---- statements ----

    def run(self, statements: Sequence[Any] | None, names: dict[str, Value]) -> Value | None:
        """Statements one after the other; what is given back, if anything is."""
        left = list(statements or ())
        while left:
            statement = left.pop(0)
            if isinstance(statement, c_ast.Return):
                return self.read(statement.expr, names)
            if isinstance(statement, c_ast.If):
                ends, found = self._if(statement, left, names)
                if ends:
                    return found
            elif isinstance(statement, c_ast.For):
                self._for(statement, names)
            elif isinstance(statement, c_ast.Compound):
                left = [*(statement.block_items or ()), *left]
            else:
                self._simple(statement, names)
        return None

    def _simple(self, statement: Any, names: dict[str, Value]) -> None:
        if isinstance(statement, c_ast.Decl):
            self.where.append(statement.name)
            if statement.storage:
                raise self.refuse("a variable that outlives its function is nothing this reader knows")
            names.pop(statement.name, None)
            names[f" {statement.name}"] = Value(self.terms.constant(0), self.type_of(statement.type))
            if statement.init is not None:
                value = self.convert(self.read(statement.init, names), self.type_of(statement.type))
                names[statement.name] = self.known(value)
            self.where.pop()
        elif isinstance(statement, c_ast.Assignment):
            self._assign(statement.lvalue, statement.op, statement.rvalue, names)
        elif isinstance(statement, c_ast.UnaryOp) and statement.op in ("p++", "p--", "++", "--"):
            one = c_ast.Constant("int", "1")
            self._assign(statement.expr, "+=" if "+" in statement.op else "-=", one, names)
        elif isinstance(statement, c_ast.FuncCall):
            self._carry_out(statement, names)
        else:
            raise self.refuse(f"{type(statement).__name__} is nothing this reader knows")

    def _assign(self, to: Any, op: str, right: Any, names: dict[str, Value]) -> None:
        made = right if op == "=" else c_ast.BinaryOp(op[:-1], to, right)
        is_member = isinstance(to, c_ast.StructRef)
        name = f"{to.name.name}->{to.field.name}" if is_member else to.name
        self.where.append(name)
        kind = self.members.get(name) if is_member else names[f" {name}"].type
        if kind is None:
            raise self.refuse("is nothing that may be written")
        value = self.known(self.convert(self.read(made, names), kind))
        (self.memory if is_member else names)[name] = value
        self.where.pop()

    def _for(self, loop: Any, names: dict[str, Value]) -> None:
        for declared in loop.init.decls if isinstance(loop.init, c_ast.DeclList) else [loop.init]:
            self._simple(declared, names)
        for _ in range(MOST_ROUNDS):
            goes_on = self.truth(self.read(loop.cond, names))
            if goes_on is False:
                return
            if goes_on is not True or self.run([loop.stmt], names) is not None:
                raise self.refuse("a loop whose end is not known")
            self._simple(loop.next, names)
        raise self.refuse("a loop of too many rounds")

    def _if(self, choice: Any, rest: list[Any], names: dict[str, Value]) -> tuple[bool, Value | None]:
        """Both ways, each with what follows where it may end there; whether it did, and with what."""
        flag = self.truth(self.read(choice.cond, names))
        ways = [[choice.iftrue] if choice.iftrue else [], [choice.iffalse] if choice.iffalse else []]
        if isinstance(flag, bool):
            rest[:0] = ways[not flag]
            return False, None
        ends = any(_gives_back(way) for way in ways)
        before, outcomes = dict(self.memory), []
        for way, holds in zip(ways, (flag, opposite(flag)), strict=True):
            self.memory, own = dict(before), dict(names)
            self.path.append(holds)
            found = self.run([*way, *rest] if ends else way, own)
            self.path.pop()
            outcomes.append((found, own, self.memory))
        (one, own, memory), (two, other, beside) = outcomes
        self.memory = self._merged(flag, memory, beside)
        merged = self._merged(flag, own, other)
        names.clear()
        names.update(merged)
        return ends, one and two and self._either(flag, one, two)

    def _merged(self, flag: Flag, one: Mapping[str, Value], two: Mapping[str, Value]) -> dict[str, Value]:
        """What has a value either way."""
        return {name: self._either(flag, one[name], two[name]) for name in one if name in two}

    def _either(self, flag: Flag, a: Value, b: Value) -> Value:
        if a is b:
            return a
        kind = a.type if a.type == b.type else self.common(a, b)
        number = self.terms.choose(flag, a.number, b.number)
        return self.known(Value(number, kind))


def _gives_back(part: Any) -> bool:
    """Whether a return stands in it."""
    if isinstance(part, list):
        return any(map(_gives_back, part))
    return isinstance(part, c_ast.Return) or any(_gives_back(child) for _, child in part.children())
