"""Terms where more is known: a flag that holds or does not, an atom that can be one number only."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from mixer.lower.graph.nodes import Range
from tests.lower.reader.terms import Atom, Flag, Literal, Number, Terms, cone, opposite


@dataclass
class Case:
    """What is known."""

    terms: Terms
    numbers: Mapping[Atom, Number]
    flags: Mapping[Atom, Flag]
    narrows: bool = False
    """Whether the terms are this case's own, with bounds that hold in it alone."""
    apart: bool = False
    """Whether what is named is taken apart."""
    made: dict[Atom, Number | Flag] = field(default_factory=dict)

    def number(self, number: Number) -> Number:
        """A number in this case."""
        for atom in cone([number], {*self.numbers, *self.flags}):
            self._make(atom)
        return self._sum(number)

    def _sum(self, number: Number) -> Number:
        total = self.terms.constant(number.constant)
        for atom, factor in number.parts:
            part = self.made[atom]
            assert isinstance(part, Number)
            total = self.terms.plus(total, self.terms.times(part, factor))
        return self._bounded(total, self.terms.reach(number)) if self.narrows else total

    def _bounded(self, number: Number, reach: Range) -> Number:
        """A number of which bounds are known by its origin; a constant, where they leave nothing else."""
        terms = self.terms
        low, high = terms.reach(terms.remember(number, reach))
        return terms.constant(low) if low == high else number

    def flag(self, flag: Flag) -> Flag:
        """A flag in this case."""
        for atom in cone([flag], {*self.numbers, *self.flags}):
            self._make(atom)
        return self._flag(flag)

    def _flag(self, flag: Flag) -> Flag:
        if isinstance(flag, bool):
            return flag
        found = self.made[flag.atom]
        assert not isinstance(found, Number)
        return found if flag.holds else opposite(found)

    def _make(self, atom: Atom) -> None:
        if atom in self.numbers:
            self.made[atom] = self.numbers[atom]
        elif atom in self.flags:
            self.made[atom] = self.flags[atom]
        elif atom not in self.made:
            made = self._anew(atom)
            if self.narrows and isinstance(made, Number):
                made = self._bounded(made, self.terms.bounds(atom))
            self.made[atom] = made

    def _anew(self, atom: Atom) -> Number | Flag:
        terms = self.terms
        if atom.kind == "variable":
            return terms.alone(atom)
        if atom.kind == "all":
            return terms.both(*(self._flag(literal) for literal in atom.args[0]))
        if atom.kind == "choose":
            flag, a, b = atom.args
            return terms.choose(self._flag(flag), self._sum(a), self._sum(b))
        if atom.kind == "named":
            whole = self._sum(atom.args[0])
            return terms.alone(atom) if whole is atom.args[0] and not self.apart else whole
        args = [self._sum(arg) if isinstance(arg, Number) else arg for arg in atom.args]
        nothing = terms.constant(0)
        made = {
            "product": lambda: terms.product(*args),
            "quotient": lambda: terms.quotient(*args),
            "entry": lambda: terms.entry(*args),
            "shift": lambda: terms.shift(*args),
            "mask": lambda: terms.mask(*args),
            "smaller": lambda: terms.smaller(*args),
            "larger": lambda: terms.larger(*args),
            "negative": lambda: terms.less(args[0], nothing),
            "zero": lambda: terms.equal(args[0], nothing),
        }
        return made[atom.kind]()


def asked_of(terms: Terms, choice: Atom, atoms: Iterable[Atom]) -> dict[Atom, Flag]:
    """Conjunctions that a choice as a whole decides, and the comparison of it that each of them is."""
    return {atom: terms.whole[atom][choice] for atom in atoms if choice in terms.whole.get(atom, ())}


def under(terms: Terms, path: Sequence[Flag]) -> Case:
    """The case in which some flags hold, with the bounds that comparisons leave."""
    here, flags = terms.assuming(), known_flags(path)
    here.learn(flags)
    here.impossible |= any(flag is False for flag in path)
    return Case(here, {}, flags, narrows=True)


def known_flags(path: Iterable[Flag]) -> dict[Atom, bool]:
    """What is known of comparisons where some flags hold."""
    known: dict[Atom, bool] = {}
    for flag in path:
        if isinstance(flag, Literal):
            known[flag.atom] = flag.holds
            if flag.atom.kind == "all" and flag.holds:
                known |= {literal.atom: literal.holds for literal in flag.atom.args[0]}
    return known
