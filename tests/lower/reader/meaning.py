"""What terms come to: in arrays of numbers, or in a solver's bit-vectors. One reading for both."""

# ruff: noqa: ANN401, D102 - arrays and bit-vectors alike; the operations are called what they are

from collections.abc import Iterable, Mapping, MutableMapping
from typing import Any, Protocol

import numpy as np
import z3

from tests.lower.reader.terms import Atom, Flag, Number, cone, in_order


class Arithmetic(Protocol):
    """What differs between the two."""

    def constant(self, value: int) -> Any: ...
    def choose(self, flag: Any, a: Any, b: Any) -> Any: ...
    def every(self, flags: list[Any]) -> Any: ...
    def opposite(self, flag: Any) -> Any: ...
    def quotient(self, a: Any, b: Any) -> Any: ...
    def entry(self, values: tuple[int, ...], at: Any) -> Any: ...


class Arrays:
    """Many values at once."""

    def constant(self, value: int) -> Any:
        return np.int64(value)

    def choose(self, flag: Any, a: Any, b: Any) -> Any:
        return np.where(flag, a, b)

    def every(self, flags: list[Any]) -> Any:
        return np.logical_and.reduce(np.broadcast_arrays(*flags))

    def opposite(self, flag: Any) -> Any:
        return np.logical_not(flag)

    def quotient(self, a: Any, b: Any) -> Any:
        return np.maximum(a, 0) // np.maximum(b, 1)

    def entry(self, values: tuple[int, ...], at: Any) -> Any:
        return np.array(values, np.int64)[np.clip(at, 0, len(values) - 1)]


class Vectors:
    """Bit-vectors wide enough for every number that is asked about."""

    def __init__(self, width: int) -> None:
        self.width = width

    def constant(self, value: int) -> Any:
        return z3.BitVecVal(value, self.width)

    def choose(self, flag: Any, a: Any, b: Any) -> Any:
        return z3.If(flag, a, b)

    def every(self, flags: list[Any]) -> Any:
        return z3.And(*flags)

    def opposite(self, flag: Any) -> Any:
        return z3.Not(flag)

    def quotient(self, a: Any, b: Any) -> Any:
        nothing, one = self.constant(0), self.constant(1)
        return z3.UDiv(z3.If(a < nothing, nothing, a), z3.If(b < one, one, b))

    def entry(self, values: tuple[int, ...], at: Any) -> Any:
        found = self.constant(values[-1])
        for number in range(len(values) - 2, -1, -1):
            found = z3.If(at <= self.constant(number), self.constant(values[number]), found)
        return found


Values = MutableMapping[Atom, Any]


def evaluate(on: Arithmetic, wanted: Iterable[Number | Flag], values: Values) -> None:
    """Every atom under some terms, put into `values`, where those of the leaves stand already."""
    for atom in cone(wanted, values):
        if atom not in values:
            values[atom] = _atom(on, atom, values)


def number(on: Arithmetic, term: Number, values: Mapping[Atom, Any]) -> Any:
    """A sum of atoms that are there."""
    total = on.constant(term.constant)
    for atom, factor in term.parts:
        total = total + (values[atom] if factor == 1 else values[atom] * on.constant(factor))
    return total


def flag(on: Arithmetic, term: Flag, values: Mapping[Atom, Any]) -> Any:
    """A flag made of what is there."""
    if isinstance(term, bool):
        return term
    return values[term.atom] if term.holds else on.opposite(values[term.atom])


def _atom(on: Arithmetic, atom: Atom, values: Mapping[Atom, Any]) -> Any:
    if atom.kind == "all":
        return on.every([flag(on, literal, values) for literal in in_order(atom.args[0])])
    if atom.kind == "choose":
        a, b = (number(on, arm, values) for arm in atom.args[1:])
        return on.choose(flag(on, atom.args[0], values), a, b)
    args = [number(on, arg, values) for arg in atom.args if isinstance(arg, Number)]
    made = {
        "named": lambda a: a,
        "product": lambda a, b: a * b,
        "quotient": on.quotient,
        "entry": lambda a: on.entry(atom.args[0], a),
        "shift": lambda a: a >> on.constant(atom.args[1]),
        "mask": lambda a: a & on.constant(2 ** atom.args[1] - 1),
        "smaller": lambda a, b: on.choose(a < b, a, b),
        "larger": lambda a, b: on.choose(a > b, a, b),
        "negative": lambda a: a < on.constant(0),
        "zero": lambda a: a == on.constant(0),
    }
    return made[atom.kind](*args)
