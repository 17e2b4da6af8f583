"""Terms in which whatever asks the same of one thing, for each of its values, is the same flag."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import reduce
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from mixer.lower.graph.nodes import Range
from tests.lower.reader import meaning
from tests.lower.reader.terms import (
    ANYTHING,
    Atom,
    Flag,
    Literal,
    Number,
    Terms,
    in_order,
    inside,
    opposite,
)

MOST_VALUES = 2**16
Values: TypeAlias = NDArray[Any]
"""What a term comes to for each value of its root."""


@dataclass
class SingleTerms(Terms):
    """Terms that try flags in full where they hang on one number of few values.

    The first of those that come to the same stands for all.
    """

    roots: dict[Atom, frozenset[Atom]] = field(default_factory=dict)
    """For each atom those that all of it hangs on, itself among them."""
    values: dict[Atom, dict[Atom, Values]] = field(default_factory=dict)
    """For each root, what the atoms above it come to for all of its values."""
    first: dict[tuple[Atom, bytes], Flag] = field(default_factory=dict)
    """The first flag that holds for some values of a root."""

    def assuming(self) -> "Terms":
        """The same terms where more will be known."""
        plain = super().assuming()
        own = (getattr(plain, each.name) for each in fields(Terms))
        return AssumedTerms(*own, base=self, left={})

    def less(self, a: Number, b: Number) -> Flag:
        """Whether a < b."""
        return self._first(super().less(a, b))

    def equal(self, a: Number, b: Number) -> Flag:
        """Whether a == b."""
        apart = self._apart(self.minus(a, b))
        return self._first(super().equal(a, b)) if apart is None else apart == 0

    def _apart(self, number: Number) -> int | None:
        """What a sum always comes to: what hangs on one thing comes to the same for all of its values."""
        groups: dict[Atom | None, Number] = defaultdict(lambda: self.constant(0))
        for atom, factor in number.parts:
            root = self.root(atom)
            groups[root] = self.plus(groups[root], self.times(self.alone(atom), factor))
        total = number.constant
        for root, part in groups.items():
            if root is None or len(part.parts) == 1:
                return None
            values = self._come_to(root, part)
            if (values != values[0]).any():
                return None
            total += int(values[0])
        return total

    def both(self, *flags: Flag) -> Flag:
        """All of them; those that ask of one thing are one question."""
        found = super().both(*flags)
        if isinstance(found, bool) or found.atom.kind != "all" or not found.holds:
            return found
        groups: dict[Atom | None, list[Literal]] = defaultdict(list)
        for literal in in_order(found.atom.args[0]):
            groups[self.root(literal.atom)].append(literal)
        asked = {
            root: self._all_of(root, group) for root, group in groups.items() if root and len(group) > 1
        }
        rest = [literal for root, group in groups.items() if root not in asked for literal in group]
        return super().both(*rest, *asked.values()) if asked else found

    def _all_of(self, root: Atom, group: list[Literal]) -> Flag:
        holds = reduce(np.logical_and, (self.told(root, literal) for literal in group))
        return self._first_with(root, holds, super().both(*group))

    def _first(self, flag: Flag) -> Flag:
        root = None if isinstance(flag, bool) else self.root(flag.atom)
        return flag if root is None else self._first_with(root, self.told(root, flag), flag)

    def _first_with(self, root: Atom, holds: Values, flag: Flag) -> Flag:
        """The first flag that holds for these values of the root; this one, where it is."""
        if holds.all() or not holds.any():
            return bool(holds.all())
        against = self.first.get((root, (~holds).tobytes()))
        return (
            opposite(against)
            if against is not None
            else self.first.setdefault((root, holds.tobytes()), flag)
        )

    def told(self, root: Atom, flag: Flag) -> Values:
        """Whether a flag holds, for each value of its root."""
        return self._come_to(root, flag)

    def _come_to(self, root: Atom, term: Flag | Number) -> Values:
        reach = self.known[(root, 1),]
        values = self.values.setdefault(root, {root: np.arange(reach.low, reach.high + 1)})
        on = meaning.Arrays()
        meaning.evaluate(on, [term], values)
        is_number = isinstance(term, Number)
        found = meaning.number(on, term, values) if is_number else meaning.flag(on, term, values)
        return np.broadcast_to(found, values[root].shape)

    def between(self, root: Atom, taken: Values, atom: Atom) -> Range:
        """The bounds of an atom where its root takes some of its values only, one at least."""
        values = self._come_to(root, self.alone(atom))[taken]
        return Range(int(values.min()), int(values.max()))

    def root(self, atom: Atom) -> Atom | None:
        """The earliest number of few values that all of an atom hangs on."""
        few = [root for root in self._roots(atom) if root.kind not in ("negative", "zero", "all")]
        few = [root for root in few if self._values(root) <= MOST_VALUES]
        return min(few, key=lambda root: root.order, default=None)

    def _values(self, root: Atom) -> int:
        if root in self.values:  # by the bounds of then: what is learned later leaves no more
            return len(self.values[root][root])
        reach = self.known.get(((root, 1),), ANYTHING)  # made where more was assumed, it has none here
        return reach.high - reach.low + 1

    def _roots(self, atom: Atom) -> frozenset[Atom]:
        if atom not in self.roots:
            below = [self._roots(part) for part in dict.fromkeys(inside(atom))]
            shared = frozenset.intersection(*below) if below else frozenset()
            self.roots[atom] = shared | {atom}
        return self.roots[atom]


@dataclass(kw_only=True)
class AssumedTerms(Terms):
    """Terms where more is known, with the values that this leaves of single numbers."""

    base: SingleTerms
    left: dict[Atom, Values]
    """For some roots, which of their values can be."""

    def assuming(self) -> "Terms":
        """The same terms where still more will be known."""
        plain = super().assuming()
        own = (getattr(plain, each.name) for each in fields(Terms))
        return AssumedTerms(*own, base=self.base, left=dict(self.left))

    def learn(self, flags: Mapping[Atom, bool]) -> None:
        """What is so from now on."""
        super().learn(flags)
        for atom, holds in flags.items():
            root = self.base.root(atom)
            if root is not None:
                told = self.base.told(root, Literal(atom, holds))
                self.left[root] = self.left[root] & told if root in self.left else told
                self.impossible |= not self.left[root].any()

    def bounds(self, atom: Atom) -> Range:
        """The bounds of an atom, by the values that its root can take."""
        known = super().bounds(atom)
        root = self.base.root(atom)
        if self.impossible or root not in self.left:
            return known
        seen = self.base.between(root, self.left[root], atom)
        return Range(max(known.low, seen.low), min(known.high, seen.high))
