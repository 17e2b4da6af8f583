"""Whether something holds of terms for all values within their bounds: tried out in full, or by a solver.

The solver is asked about little pieces: what both sides of a question have in common is any value within
its bounds. It stops after a number of its own steps, so that the answer does not depend on the machine.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain
from math import prod
from typing import Any, NamedTuple

import numpy as np
import z3

from mixer.lower.graph.nodes import Range
from tests.lower.reader import meaning
from tests.lower.reader.cases import Case, asked_of, under
from tests.lower.reader.meaning import Arrays, Vectors
from tests.lower.reader.terms import Atom, Flag, Number, Terms, cone, inside, opposite

STEPS = 1_000_000
IN_FULL = 2**17
MOST_ENDS = 5
"""So many atoms at most are a place to begin, most of them flags."""
TRIED = 6
"""So many places to begin are tried in full."""
DRAWN = 2000
PATIENCE = 50
"""So many wrong guesses at most, where STEPS are given, else as many fewer."""
MOST_CASES = 3
MOST_CHOICES = 6
FLAGS = ("negative", "zero", "all")
FLAG = Range(0, 1)
OPAQUE = ("variable", "product", "quotient")


class Ends(NamedTuple):
    """Where a question begins: atoms that may be anything within their bounds, and a sum that may."""

    atoms: tuple[Atom, ...]
    total: Number | None = None
    """Its parts alone count, not its constant."""


@dataclass
class Judge:
    """Questions about one collection of terms, and how they were settled."""

    terms: Terms
    steps: int = STEPS
    settled: Counter[str] = field(default_factory=Counter)
    depth: int = 0
    """So many flags are taken as known."""

    def __post_init__(self) -> None:
        self.apart = Case(self.terms, {}, {}, apart=True)

    def guess(self, a: Number | Flag, b: Number | Flag) -> bool:
        """The same asked of two that may well differ: not for ever."""
        if self.settled["wrong guess"] * STEPS >= PATIENCE * self.steps:
            return a is b
        found = self.same(a, b)
        self.settled["wrong guess"] += not found
        return found

    def likely_same(self, a: Number | Flag, b: Number | Flag) -> bool:
        """The same asked in few steps, where it is no harm not to know."""
        return Judge(self.terms, self.steps // 100, depth=MOST_CASES - 1).same(a, b)

    def same_in_full(self, a: Number | Flag, b: Number | Flag) -> bool:
        """Whether two numbers are the same, by trying all they hang on, where that is little."""
        if not (isinstance(a, Number) and isinstance(b, Number)):
            return a == b
        common = set(cone([a])) & set(cone([b]))
        claim = self.terms.equal(a, b)
        return a is b or any(self._in_full(claim, [], ends) for ends in self._few_ends([claim], common))

    def same(self, a: Number | Flag, b: Number | Flag) -> bool:
        """Whether two numbers, or two flags, are always equal."""
        if self.terms.impossible or a is b or (not isinstance(a, Number) and a == b):
            self.settled["seen"] += 1
            return True
        if not (isinstance(a, Number) and isinstance(b, Number)):
            assert not isinstance(a, Number)
            assert not isinstance(b, Number)
            return self._same_flags(a, b)
        if self._differ(a, b):
            return False
        apart = [self.apart.number(number) for number in (a, b)]
        return (
            apart[0] is apart[1]
            or self._same_numbers(a, b)
            or ((a, b) != (*apart,) and self._same_numbers(*apart))
            or self._same_by_cases(a, b)
        )

    def _differ(self, a: Number, b: Number) -> bool:
        """Whether two numbers differ for some values drawn at random."""
        atoms = cone([a, b])
        numbers = [self.terms.alone(atom) for atom in atoms if atom.kind not in FLAGS]
        variables = [atom for atom in atoms if atom.kind == "variable"]
        return self._is_refuted(self.terms.equal(a, b), [], variables, numbers)

    def _same_flags(self, a: Flag, b: Flag) -> bool:
        common = set(cone([a])) & set(cone([b]))
        return self._follows(b, [a], common) and self._follows(a, [b], common)

    def _same_numbers(self, a: Number, b: Number) -> bool:
        common = set(cone([a])) & set(cone([b]))
        return self._same_of_choice(a, b) or self._follows(self.terms.equal(a, b), [], common)

    def _same_by_cases(self, a: Number, b: Number) -> bool:
        """Whether they are where a flag holds that one of them chooses by, and where it does not."""
        flag = next((flag for number in (a, b) for flag in self._chosen_by(number)), None)
        if flag is None or self.depth >= MOST_CASES:
            return False
        for held in (flag, opposite(flag)):
            here = under(self.terms, [held])
            judge = Judge(here.terms, self.steps, self.settled, self.depth + 1)
            if not judge.same(here.number(a), here.number(b)):
                return False
        self.settled["by cases"] += 1
        return True

    def _chosen_by(self, number: Number) -> list[Flag]:
        atoms = [atom.args[0].parts[0][0] if atom.kind == "named" else atom for atom, _ in number.parts]
        return [atom.args[0] for atom in atoms if atom.kind == "choose"]

    def _same_of_choice(self, a: Number, b: Number) -> bool:
        """Whether two numbers are the same function of one choice, whatever its arms and its flag are."""
        atoms = [] if self.depth else cone([a, b])
        found = dict.fromkeys(chain.from_iterable(self.terms.whole.get(atom, ()) for atom in atoms))
        for choice in [*found][:MOST_CHOICES]:
            itself = {choice: self.terms.alone(choice)}
            case = Case(self.terms, itself, asked_of(self.terms, choice, atoms))
            claim = self.terms.equal(case.number(a), case.number(b))
            ends = Ends((choice,))
            if _hangs_on(claim, choice) and self._are_few(ends) and self._in_full(claim, [], ends):
                self.settled["of a choice"] += 1
                return True
        return False

    def holds(self, claim: Flag, given: Iterable[Flag] = ()) -> bool:
        """Whether a flag follows from others."""
        given = list(given)
        here = under(self.terms, given)
        if here.flag(claim) is True or here.terms.impossible or self._holds_by_itself(claim):
            return True
        near = {below for atom in _compared([claim, *given]) for below in inside(atom)}
        return self._follows(claim, given, near)

    def _holds_by_itself(self, claim: Flag) -> bool:
        """Whether a flag holds for all values of one thing that it hangs on, whatever else there is."""
        if isinstance(claim, bool):
            return claim
        for ends in self._few_ends([claim], set(cone([claim]))):
            if self._in_full(claim, [], ends):
                self.settled["by itself"] += 1
                return True
        return False

    def _follows(self, claim: Flag, given: list[Flag], common: set[Atom]) -> bool:
        """The same, first with what is common being anything within its bounds."""
        if claim is True or claim in given or any(flag is False for flag in given):
            return True
        parts = [claim, *given]
        if any(self._in_full(claim, given, ends) for ends in self._few_ends(parts, common)):
            self.settled["in full"] += 1
            return True
        opaque = {atom for atom in cone(parts) if atom.kind in OPAQUE}
        done = any(self._solved(claim, given, _ends(parts, ends)) for ends in (common | opaque, opaque))
        self.settled["solver" if done else "open"] += 1
        return done

    def _few_ends(self, parts: Iterable[Flag], common: set[Atom]) -> list[Ends]:
        """Where to begin: at what is common, or at one number that all hangs on, a few flags beside it."""
        parts = list(parts)
        found = [Ends(tuple(_ends(parts, common)))]
        for cut in [*_cuts(parts, keep=True), *_cuts(parts, keep=False)]:
            flags = tuple(atom for atom in cut if atom.kind in FLAGS)
            numbers = tuple(atom for atom in cut if atom.kind not in FLAGS)
            if len(numbers) == 1:
                found.append(Ends((*numbers, *flags)))
            else:
                found += [
                    Ends(flags, total) for total in _sums(parts, numbers) if _only_sums(parts, cut, total)
                ]
        few = [ends for ends in found if self._are_few(ends)]
        few.reverse()
        return sorted(few, key=lambda ends: sum(atom.kind in FLAGS for atom in ends.atoms))[:TRIED]

    def _are_few(self, ends: Ends) -> bool:
        """Whether all values of the ends can be tried."""
        return prod(reach.high - reach.low + 1 for reach in self._reaches(ends)) <= IN_FULL

    def _reaches(self, ends: Ends) -> list[Range]:
        own = [FLAG if atom.kind in FLAGS else self.terms.known[(atom, 1),] for atom in ends.atoms]
        if ends.total is None:
            return own
        reach, whole = self.terms.reach(ends.total), ends.total.constant
        return [*own, Range(reach.low - whole, reach.high - whole)]

    def _in_full(self, claim: Flag, given: list[Flag], ends: Ends) -> bool:
        axes = [np.arange(reach.low, reach.high + 1, dtype=np.int64) for reach in self._reaches(ends)]
        columns = list(map(np.ravel, np.meshgrid(*axes)))
        values: dict[Atom, Any] = dict(zip(ends.atoms, columns, strict=False))
        values |= {atom: values[atom].astype(bool) for atom in ends.atoms if atom.kind in FLAGS}
        if ends.total is not None:  # nothing but the sum counts: one atom is all of it
            first, factor = _taken_once(ends.total)
            values |= dict.fromkeys((atom for atom, _ in ends.total.parts), np.int64(0))
            values[first] = columns[-1] * factor
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
        meaning.evaluate(on, [claim, *given, *numbers], values)
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


def _hangs_on(claim: Flag, only: Atom) -> bool:
    """Whether a claim hangs on one atom alone."""
    return all(atom is only or atom.kind != "variable" for atom in cone([claim], [only]))


def _cuts(parts: Iterable[Flag], *, keep: bool) -> list[list[Atom]]:
    """Sets of a few atoms that all of some terms hangs on, the latest first.

    Taking the terms apart, always the latest number first, what is left to be taken apart is such a set.
    Flags are taken apart before the numbers that they are later than; where they are kept, only before one
    that they hang on.
    """
    left = {atom for part in parts for atom in inside(part)}
    below: dict[Atom, set[Atom]] = {}
    found = []
    while left:
        numbers = [atom for atom in left if atom.kind not in FLAGS]
        flags = left - set(numbers)
        latest = max(numbers or flags, key=lambda atom: atom.order)
        below |= {flag: {*inside(flag), *cone(inside(flag))} for flag in flags if flag not in below}
        hanging = {flag for flag in flags if (latest in below[flag] if keep else flag.order > latest.order)}
        if not hanging:
            if numbers and len(left) <= MOST_ENDS:
                found.append(sorted(left, key=lambda atom: atom.order))
            if latest.kind == "variable":
                break
            hanging = {latest}
        left = (left - hanging) | {atom for taken in hanging for atom in inside(taken)}
    return found


def _sums(parts: Iterable[Flag], numbers: Sequence[Atom]) -> list[Number]:
    """Sums of these atoms that are compared, or held within bounds, one of them taken once."""
    found: dict[Number, None] = {}
    for atom in cone(parts, numbers):
        if atom.kind in ("negative", "smaller", "larger"):
            for arg in atom.args:
                factors = dict(arg.parts)
                if set(factors) == set(numbers) and 1 in map(abs, factors.values()):
                    found[arg] = None
    return list(found)


def _only_sums(parts: Iterable[Flag], ends: Iterable[Atom], total: Number) -> bool:
    """Whether the atoms of a sum stand in some terms in multiples of the sum alone."""
    own = dict(total.parts)
    once, factor = _taken_once(total)
    ends = set(ends)
    numbers = [
        arg
        for atom in cone(parts, ends)
        if atom not in ends
        for arg in atom.args
        if isinstance(arg, Number)
    ]
    for number in numbers:
        held = dict(number.parts)
        times = held.get(once, 0) * factor
        if any(held.get(atom, 0) != times * k for atom, k in own.items()):
            return False
    return True


def _taken_once(total: Number) -> tuple[Atom, int]:
    """An atom that a sum has once, and its sign: by itself it can make the sum any number."""
    return next(part for part in total.parts if abs(part[1]) == 1)


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
