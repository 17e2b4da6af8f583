"""Whether something holds of terms for all values within their bounds: tried out in full, or by a solver.

The solver is asked about little pieces: what both sides of a question have in common is any value within
its bounds. It stops after a number of its own steps, so that the answer does not depend on the machine.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import prod
from typing import Any

import numpy as np
import z3

from mixer.lower.graph.nodes import Range
from tests.lower.reader import meaning
from tests.lower.reader.meaning import Arrays, Vectors
from tests.lower.reader.terms import Atom, Flag, Number, Terms, cone, inside

STEPS = 1_000_000
IN_FULL = 2**17
DRAWN = 2000
PATIENCE = 100
NEAREST = 12
FLAGS = ("negative", "zero", "all")
OPAQUE = ("variable", "product", "quotient")


@dataclass
class Judge:
    """Questions about one collection of terms, and how they were settled."""

    terms: Terms
    steps: int = STEPS
    settled: Counter[str] = field(default_factory=Counter)

    def guess(self, a: Number | Flag, b: Number | Flag) -> bool:
        """The same asked of two that may well differ: in few steps, and not for ever."""
        if self.settled["wrong guess"] >= PATIENCE:
            return a is b
        whole, self.steps = self.steps, self.steps // 10
        found = self.same(a, b)
        self.steps = whole
        self.settled["wrong guess"] += not found
        return found

    def same_in_full(self, a: Number | Flag, b: Number | Flag) -> bool:
        """Whether two numbers are the same, by trying all they hang on, where that is little."""
        if not (isinstance(a, Number) and isinstance(b, Number)):
            return a == b
        common = set(cone([a])) & set(cone([b]))
        claim = self.terms.equal(a, b)
        used = next((ends for ends in self._few_ends([claim], common) if self._are_few(ends)), None)
        return a is b or (used is not None and self._in_full(claim, [], used))

    def same(self, a: Number | Flag, b: Number | Flag) -> bool:
        """Whether two numbers, or two flags, are always equal."""
        if a is b or (not isinstance(a, Number) and a == b):
            self.settled["seen"] += 1
            return True
        common = set(cone([a])) & set(cone([b]))
        if isinstance(a, Number) and isinstance(b, Number):
            return self._follows(self.terms.equal(a, b), [], common)
        assert not isinstance(a, Number)
        assert not isinstance(b, Number)
        return self._follows(b, [a], common) and self._follows(a, [b], common)

    def holds(self, claim: Flag, given: Iterable[Flag] = ()) -> bool:
        """Whether a flag follows from others."""
        given = list(given)
        near = {below for atom in _compared([claim, *given]) for below in inside(atom)}
        return self._follows(claim, given, near)

    def _follows(self, claim: Flag, given: list[Flag], common: set[Atom]) -> bool:
        """The same, first with what is common being anything within its bounds."""
        if claim is True or claim in given or any(flag is False for flag in given):
            return True
        parts = [claim, *given]
        used = next((ends for ends in self._few_ends(parts, common) if self._are_few(ends)), None)
        if used is not None:
            self.settled["in full"] += 1
            if self._in_full(claim, given, used):
                return True
        opaque = {atom for atom in cone(parts) if atom.kind in OPAQUE}
        done = any(self._solved(claim, given, _ends(parts, ends)) for ends in (common | opaque, opaque))
        self.settled["solver" if done else "open"] += 1
        return done

    def _few_ends(self, parts: Iterable[Flag], common: set[Atom]) -> Iterator[list[Atom]]:
        """Where to begin: at what is common, or at one thing that all of it hangs on."""
        yield _ends(parts, common)
        for atom in sorted(common, key=lambda atom: atom.order, reverse=True)[:NEAREST]:
            if atom.kind not in FLAGS:
                ends = _ends(parts, {atom})
                if ends == [atom]:
                    yield ends

    def _are_few(self, leaves: Iterable[Atom]) -> bool:
        """Whether all values of the leaves can be tried."""
        if any(atom.kind in FLAGS for atom in leaves):
            return False
        reaches = [self.terms.known[(atom, 1),] for atom in leaves]
        return prod(reach.high - reach.low + 1 for reach in reaches) <= IN_FULL

    def _in_full(self, claim: Flag, given: list[Flag], leaves: Sequence[Atom]) -> bool:
        reaches = [self.terms.known[(atom, 1),] for atom in leaves]
        axes = [np.arange(reach.low, reach.high + 1, dtype=np.int64) for reach in reaches]
        values: dict[Atom, Any] = dict(zip(leaves, map(np.ravel, np.meshgrid(*axes)), strict=True))
        on = Arrays()
        meaning.evaluate(on, [claim, *given], values)
        told = [meaning.flag(on, claim, values)]
        told += [on.opposite(meaning.flag(on, flag, values)) for flag in given]
        return bool(np.all(np.logical_or.reduce(np.broadcast_arrays(*told))))

    def _solved(self, claim: Flag, given: list[Flag], leaves: Sequence[Atom]) -> bool:
        parts = [claim, *given]
        atoms = cone(parts, leaves)
        alone = [self.terms.alone(atom) for atom in atoms if atom.kind not in FLAGS]
        made = [atom.args for atom in atoms if atom not in set(leaves)]
        numbers = list(
            dict.fromkeys([*alone, *(arg for args in made for arg in args if isinstance(arg, Number))])
        )
        if self._is_refuted(claim, given, leaves, numbers):
            return False
        on = Vectors(self._width(numbers, atoms))
        values: dict[Atom, Any] = {
            atom: z3.Bool(f"f{at}") if atom.kind in FLAGS else z3.BitVec(f"n{at}", on.width)
            for at, atom in enumerate(leaves)
        }
        meaning.evaluate(on, parts, values)
        solver = z3.SolverFor("QF_BV")
        solver.set("rlimit", self.steps)
        for term in numbers:
            held, reach = meaning.number(on, term, values), self.terms.reach(term)
            solver.add(held >= on.constant(reach.low), held <= on.constant(reach.high))
        solver.add(*(meaning.flag(on, flag, values) for flag in given))
        solver.add(on.opposite(meaning.flag(on, claim, values)))
        return bool(solver.check() == z3.unsat)

    def _is_refuted(
        self, claim: Flag, given: list[Flag], leaves: Sequence[Atom], numbers: Sequence[Number]
    ) -> bool:
        """Whether some values drawn at random speak against it: that saves the solver's time."""
        draw, on = np.random.default_rng(5), Arrays()
        values: dict[Atom, Any] = {}
        for atom in leaves:
            reach = Range(0, 1) if atom.kind in FLAGS else self.terms.known[(atom, 1),]
            drawn = draw.integers(reach.low, reach.high + 1, DRAWN)
            values[atom] = drawn.astype(bool) if atom.kind in FLAGS else drawn
        meaning.evaluate(on, [claim, *given], values)
        against = [on.opposite(meaning.flag(on, claim, values))]
        against += [meaning.flag(on, flag, values) for flag in given]
        for term in numbers:
            held, reach = meaning.number(on, term, values), self.terms.reach(term)
            against += [held >= reach.low, held <= reach.high]
        return bool(np.any(on.every(against)))

    def _width(self, numbers: Iterable[Number], atoms: Iterable[Atom]) -> int:
        """Bits enough for every sum and every part of one."""
        most = 1
        for number in numbers:
            total = abs(number.constant)
            for atom, factor in number.parts:
                total += abs(factor) * max(map(abs, self.terms.known[(atom, 1),]))
            most = max(most, total)
        powers = [2 ** atom.args[1] for atom in atoms if atom.kind in ("shift", "mask")]
        return max(most, *powers, 1).bit_length() + 2


def _ends(parts: Iterable[Flag], ends: set[Atom]) -> list[Atom]:
    """Where one comes upon some atoms first, and what has nothing below."""
    return [atom for atom in cone(parts, ends) if atom in ends or atom.kind == "variable"]


def _compared(flags: Iterable[Flag]) -> list[Atom]:
    """The comparisons that flags are made of."""
    found, waiting = [], [atom for flag in flags for atom in inside(flag)]
    while waiting:
        atom = waiting.pop()
        if atom.kind == "all":
            waiting += inside(atom)
        else:
            found.append(atom)
    return found
