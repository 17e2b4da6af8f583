"""Terms where more is known: a flag that holds or does not, an atom that can be one number only."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from tests.lower.reader.terms import Atom, Flag, Literal, Number, Terms, cone, opposite


@dataclass
class Case:
    """What is known."""

    terms: Terms
    numbers: Mapping[Atom, Number]
    flags: Mapping[Atom, Flag]
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
        return total

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
            self.made[atom] = self._anew(atom)

    def _anew(self, atom: Atom) -> Number | Flag:
        terms = self.terms
        if atom.kind == "variable":
            return terms.alone(atom)
        if atom.kind == "all":
            return terms.both(*(self._flag(literal) for literal in atom.args[0]))
        if atom.kind == "choose":
            flag, a, b = atom.args
            return terms.choose(self._flag(flag), self._sum(a), self._sum(b))
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


def pinned(terms: Terms, flag: Flag) -> dict[Atom, Number] | None:
    """The one value that a flag leaves an atom where it holds; None where it leaves several."""
    if not isinstance(flag, Literal) or flag.atom.kind != "negative" or len(flag.atom.args[0].parts) != 1:
        return None
    gap = flag.atom.args[0]
    reach, (only, factor) = terms.reach(gap), gap.parts[0]
    end = -1 if flag.holds else 0
    if abs(factor) != 1 or end != (reach.low if flag.holds else reach.high):
        return None
    return {only: terms.constant((end - gap.constant) * factor)}


def known_flags(path: Iterable[Flag]) -> dict[Atom, bool]:
    """What is known of comparisons where some flags hold."""
    known: dict[Atom, bool] = {}
    for flag in path:
        if isinstance(flag, Literal):
            known[flag.atom] = flag.holds
            if flag.atom.kind == "all" and flag.holds:
                known |= {literal.atom: literal.holds for literal in flag.atom.args[0]}
    return known
