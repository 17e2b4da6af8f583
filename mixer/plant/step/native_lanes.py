"""The coupled step over many lanes in C: operation by operation what the numpy of `lowering` does.

A trace becomes a list of operations on rows, which one small library works through: no robot, and no
broken body of one, needs a build of its own. The numbers are those of numpy, single precision included.
"""

import ctypes
import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mixer.lower.run.native_build import load
from mixer.plant.step.lowering import StepFunction, live_nodes, lookup
from mixer.plant.step.trace import FloatSymbol, Trace, Value, operands_of

FLAGS = (
    "-std=c99", "-O3", "-shared", "-fPIC", "-march=native", "-ffp-contract=off", "-fno-math-errno",
    "-fno-trapping-math", "-lm",
)  # fmt: skip
BLOCK = 64
"""Lanes worked through together: their rows stay in the first-level cache."""
_NAMES = (
    "PLUS", "MINUS", "TIMES", "OVER", "LESS", "LESS_EQUAL", "LARGER", "SMALLER", "NEGATIVE", "MAGNITUDE",
    "ROOT", "SINGLE", "SELECT",
)  # fmt: skip
_FORMS = {
    "+": "PLUS", "-": "MINUS", "*": "TIMES", "/": "OVER", "<": "LESS", "<=": "LESS_EQUAL", "&": "SMALLER",
    "|": "LARGER", "neg": "NEGATIVE", "abs": "MAGNITUDE", "sqrt": "ROOT",
}  # fmt: skip
_MIRRORED = {">": "<", ">=": "<="}
_ROUNDED = ("PLUS", "MINUS", "TIMES", "OVER", "ROOT")
"""Whose result in single precision may be another number than in double."""
_SINGLE, _DOUBLE = np.dtype(np.float32), np.dtype(np.float64)
Kind = np.dtype[Any]
Operand = tuple[int, Kind] | float
"""A row and its type; or a number, which takes the type of what it meets."""


def in_c(trace: Trace, results: Sequence[Value]) -> bool:
    """Whether every operation behind these results gives the same number in C.

    A sine of numpy need not be that of C. Tables are read by numpy, so only where nothing comes before.
    """
    for index in live_nodes(trace, _roots(results)):
        node = trace.nodes[index]
        if node[0] in ("sin", "cos") or (node[0] == "along" and trace.nodes[node[2][1]][0] != "input"):
            return False
    return True


def native_lanes_step(trace: Trace, results: Sequence[Value]) -> StepFunction:
    """As `compile_step` for arrays, where `in_c` holds.

    Raises MissingToolError where there is no C compiler, or one that cannot build this.
    """
    library = _library()
    known: dict[tuple[Kind, ...], _Program] = {}

    def step(state: Sequence[Any], duties: Sequence[Any]) -> list[Any]:
        given = {"s": state, "d": duties}
        types = tuple(row.dtype for row in (*state, *duties))
        if types not in known:
            known[types] = _Program(trace, results, given)
        return known[types].run(library, given)

    return step


@lru_cache(maxsize=1)
def _library() -> Any:  # noqa: ANN401 - a function of ctypes
    values = {"operations": ", ".join(_NAMES), "block": str(BLOCK)}
    text = Path(__file__).with_name("native_lanes.c").read_text(encoding="utf-8")
    function = load(re.sub(r"@(\w+)@", lambda found: values[found.group(1)], text), FLAGS).run
    function.restype = None
    pointer, size = ctypes.c_void_p, ctypes.c_int64
    function.argtypes = [pointer, size, pointer, pointer, pointer, size, pointer, pointer, size, size]
    return function


def _roots(results: Sequence[Value]) -> list[int]:
    return [result.index for result in results if isinstance(result, FloatSymbol)]


Given = dict[str, Sequence[NDArray[np.floating[Any]]]]
"""The rows of the state, `s`, and the duties, `d`."""


class _Program:
    """A trace as operations, for state and duties of certain types."""

    def __init__(self, trace: Trace, results: Sequence[Value], given: Given) -> None:
        self._trace, self._results, self._roots = trace, results, _roots(results)
        live = live_nodes(trace, self._roots)
        self._inputs = [index for index in live if trace.nodes[index][0] in ("input", "along")]
        self._at = {index: (row, self._read(index, given).dtype) for row, index in enumerate(self._inputs)}
        self._rows = len(self._inputs)
        self._free: list[int] = []
        self._steps: list[tuple[int, ...]] = []
        self._numbers: dict[str, float] = {}
        last = {operand: index for index in live for operand in operands_of(trace.nodes[index])}
        for index in live:
            if index not in self._at:
                self._at[index] = self._written(trace.nodes[index])
            for operand in set(operands_of(trace.nodes[index])):
                if last[operand] == index and operand not in self._roots:
                    self._free.append(self._at[operand][0])
        self._code = np.array(self._steps, np.int32)
        self._constants = np.array([*self._numbers.values(), 0.0])
        self._scratch = np.zeros((self._rows, BLOCK))
        self._places = np.array([self._at[index][0] for index in self._roots], np.int32)

    def _read(self, index: int, given: Given) -> NDArray[np.floating[Any]]:
        """The row of an input; of a table what it says there."""
        node = self._trace.nodes[index]
        if node[0] == "along":
            read = lookup(node[1][1], arrays=True)(self._read(node[2][1], given))
            return np.asarray(read)
        name, place = node[1][0], int(node[1][2:-1])
        return given[name][place]

    def _written(self, node: tuple[Any, ...]) -> tuple[int, Kind]:
        name, *parts = node
        operands: list[Operand] = [self._at[part] if kind == "s" else float(part) for kind, part in parts]
        if name in _MIRRORED:
            name, operands = _MIRRORED[name], operands[::-1]
        if name == "select":
            flag, *arms = operands
            return self._step("SELECT", arms, flag)
        if name == "clamp":
            x, low, high = operands
            return self._step("SMALLER", [self._step("LARGER", [x, low]), high])
        return self._step(_FORMS[name], operands)

    def _step(self, name: str, operands: Sequence[Operand], *first: Operand) -> tuple[int, Kind]:
        types = [operand[1] for operand in operands if isinstance(operand, tuple)]
        kind = np.result_type(*types) if types else _DOUBLE
        places = [self._place(operand, kind) for operand in (*first, *operands)]
        row = self._new(name, places)
        if kind == _SINGLE and name in _ROUNDED:
            self._free.append(row)
            row = self._new("SINGLE", [row])
        return row, kind

    def _new(self, name: str, places: Sequence[int]) -> int:
        """A row for a result: never one that is read in the same operation."""
        free = next((row for row in self._free if row not in places), None)
        if free is None:
            free, self._rows = self._rows, self._rows + 1
        else:
            self._free.remove(free)
        self._steps.append((_NAMES.index(name), free, *places, *(0,) * (3 - len(places))))
        return free

    def _place(self, operand: Operand, kind: Kind) -> int:
        if isinstance(operand, tuple):
            return operand[0]
        number = float(np.float32(operand)) if kind == _SINGLE else operand
        self._numbers.setdefault(number.hex(), number)
        return -1 - list(self._numbers).index(number.hex())

    def run(self, library: Any, given: Given) -> list[Any]:  # noqa: ANN401 - a function of ctypes
        """A step of all lanes: one row a result, of numpy's type."""
        rows = np.array([self._read(index, given) for index in self._inputs], np.float64)
        out = np.empty((len(self._places), rows.shape[1]))
        library(
            self._code.ctypes.data, len(self._code), self._constants.ctypes.data, self._scratch.ctypes.data,
            rows.ctypes.data, len(rows), out.ctypes.data, self._places.ctypes.data, *out.shape,
        )  # fmt: skip
        return list(self._told(out))

    def _told(self, out: NDArray[np.float64]) -> Iterator[Any]:
        found = iter(out)
        for result in self._results:
            if isinstance(result, FloatSymbol):
                yield next(found).astype(self._at[result.index][1], copy=False)
            else:
                yield float(result)
