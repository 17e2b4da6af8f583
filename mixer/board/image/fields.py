"""What an image's variables are made of, field by field, by the C it was built from.

    slots_of(image, sources)       # Slot("board", 44, 2, "board.reader.widths[2]"), ...

No debugging text is read. Only what this project's own C declares is understood: structures of exact-width
numbers, of each other and of arrays of them, lengths as numbers and macros. A variable whose size is no
multiple of what comes out is told byte by byte.
"""

import ast
import operator
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from mixer.board.image.elf import RAM_AT, Image, Machine, Symbol
from mixer.board.image.thumb.timing import SRAM

LONGEST_ARRAY = 16
"""Of longer arrays, which are buffers and tables, the element in the middle stands for all."""

_NUMBERS = {f"{sign}int{8 * size}_t": size for sign in ("", "u") for size in (1, 2, 4)}
_OPERATIONS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul}
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_DEFINED = re.compile(r"#\s*define (\w+)(?: (.*))?$")
_CONDITION = re.compile(r"#\s*(if|ifdef|ifndef|elif|else|endif)\b(.*)$")
_FIRST = ("wiring.h", "config.h")
"""What the others include first."""
_STRUCT = re.compile(r"(?:typedef struct|(struct \w+)) \{(.*?)\}\s*(\w*);", re.DOTALL)
_FIELD = re.compile(r"((?:struct )?\w+) (\w+)(?:\[([^\]]+)\])?;")
_VARIABLE = re.compile(
    r"^\s*static ((?:const |volatile )*)((?:struct )?\w+) (\w+)(?:\[[^\]]*\])?(?: \w+)?(?: =|;)",
    re.MULTILINE,
)


@dataclass(frozen=True, slots=True)
class Slot:
    """One number that a program remembers."""

    symbol: str
    """The variable's name in the image ..."""
    offset: int
    """... and where in it."""
    size: int
    name: str
    """As C says it."""
    constant: bool = False
    """Whether C says that it never changes."""


def slots_of(image: Image, sources: Mapping[str, str]) -> Iterator[Slot]:
    """Every slot of every variable in RAM, by address; one that goes by two names once."""
    order = sorted(sources, key=lambda name: _FIRST.index(name) if name in _FIRST else len(_FIRST))
    known = _Types([sources[name] for name in order], 1 if image.machine == Machine.AVR else 4)
    end = 0
    ram = RAM_AT if image.machine == Machine.AVR else SRAM[0]
    for symbol in sorted(image.symbols.values(), key=lambda each: (each.address, -each.size)):
        if symbol.is_code or not symbol.size or symbol.address < end or symbol.address < ram:
            continue
        end = symbol.address + symbol.size
        yield from known.slots(symbol)


class _Types:
    """The structures and variables that some sources declare."""

    def __init__(self, sources: Iterable[str], most_aligned: int) -> None:
        self._aligned = most_aligned
        self._macros = {"WITH_WIRING": "1", "WITH_MIX": "1"}
        text = "\n".join(line for source in sources for line in self._taken(_COMMENT.sub("", source)))
        self._structs = {tag or name: body for tag, body, name in _STRUCT.findall(text)}
        declared = _VARIABLE.findall(text)
        self._variables = {name: kind for _, kind, name in declared}
        self._constants = {name for kept, _, name in declared if "const " in kept}

    def _taken(self, text: str) -> Iterator[str]:
        """The lines that conditions leave, as far as they ask of numbers; macros are noted on the way."""
        stack = list[tuple[bool, bool]]()  # whether this branch is taken, and whether one has been
        for line in map(str.strip, text.splitlines()):
            condition = _CONDITION.match(line)
            if condition is not None:
                self._branch(condition[1], condition[2].strip(), stack)
            elif all(taken for taken, _ in stack):
                defined = _DEFINED.match(line)
                if defined is not None:
                    self._macros[defined[1]] = defined[2] or ""
                yield line

    def _branch(self, kind: str, asked: str, stack: list[tuple[bool, bool]]) -> None:
        if kind == "endif":
            stack.pop()
        elif kind in ("if", "ifdef", "ifndef"):
            holds = (asked in self._macros) == (kind == "ifdef") if kind != "if" else self._holds(asked)
            stack.append((holds, holds))
        else:
            _, before = stack[-1]
            holds = not before and (kind == "else" or self._holds(asked))
            stack[-1] = holds, before or holds

    def _holds(self, asked: str) -> bool:
        """Whether a number is not zero; no more is understood, and what is not does not hold."""
        return re.fullmatch(r"\w+", asked) is not None and self._number(asked) != 0

    def slots(self, symbol: Symbol) -> Iterator[Slot]:
        """Of one variable."""
        name = symbol.name.partition(".")[0]
        kind = self._variables.get(name, "")
        size, _ = self._measure(kind)
        if not size or symbol.size % size:
            kind, size = "uint8_t", 1
        found = [(name, kind, 0, symbol.size // size)]
        for path, number, offset in self._elements(found):
            yield Slot(symbol.name, offset, _NUMBERS[number], path, name in self._constants)

    def _elements(self, found: list[tuple[str, str, int, int]]) -> Iterator[tuple[str, str, int]]:
        """The numbers in variables or fields: each of those with a name, a type, its place, how many."""
        for path, kind, at, count in found:
            size, _ = self._measure(kind)
            wanted = range(count) if count <= LONGEST_ARRAY else (count // 2,)
            for number in wanted:
                where = f"{path}[{number}]" if count > 1 else path
                if kind in _NUMBERS:
                    yield where, kind, at + number * size
                else:
                    inside = self._fields(kind)
                    yield from self._elements(
                        [
                            (f"{where}.{name}", each, at + number * size + place, n)
                            for name, each, place, n in inside
                        ]
                    )

    def _measure(self, kind: str) -> tuple[int, int]:
        """A type's size and alignment; 0 for one that is not known."""
        if kind in _NUMBERS:
            return _NUMBERS[kind], min(_NUMBERS[kind], self._aligned)
        fields = self._fields(kind) if kind in self._structs else []
        if not fields:
            return 0, 1
        aligned = max(self._measure(each)[1] for _, each, _, _ in fields)
        _, last, place, count = fields[-1]
        end = place + count * self._measure(last)[0]
        return -(-end // aligned) * aligned, aligned

    def _fields(self, kind: str) -> list[tuple[str, str, int, int]]:
        """Of a structure: each field's name, type, offset and length; none where one is not known."""
        found, at = list[tuple[str, str, int, int]](), 0
        for each, name, length in _FIELD.findall(self._structs[kind]):
            size, aligned = self._measure(each)
            if not size:
                return []
            at = -(-at // aligned) * aligned
            count = self._number(length) if length else 1
            found.append((name, each, at, count))
            at += size * count
        return found

    def _number(self, text: str) -> int:
        """The value of a length: numbers and macros, added, taken away, multiplied; 0 where it is more."""
        plain = re.sub(r"(\d)[uU]?[lL]?\b", r"\1", text.strip())
        try:
            return self._value(ast.parse(plain, mode="eval").body)
        except SyntaxError:
            return 0

    def _value(self, node: ast.expr) -> int:
        if isinstance(node, ast.Constant) and isinstance(node.value, int):
            return node.value
        if isinstance(node, ast.Name) and node.id in self._macros:
            return self._number(self._macros[node.id])
        if isinstance(node, ast.BinOp) and type(node.op) in _OPERATIONS:
            return int(_OPERATIONS[type(node.op)](self._value(node.left), self._value(node.right)))
        return 0
