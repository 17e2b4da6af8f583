"""Terms that come to the same at every moment of a drive, and which of them are proven to be equal."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.lower.reader import meaning
from tests.lower.reader.cases import under
from tests.lower.reader.judge import MOST_CASES, Judge
from tests.lower.reader.terms import Atom, Flag, Number

MOST_CANDIDATES = 8
FEW = 3
"""So many different values make a likeness worth a question."""


@dataclass
class Alike:
    """A collection of terms, by what they come to."""

    judge: Judge
    values: dict[Atom, Any]
    """Of the variables, at some moments."""
    found: dict[tuple[bool, bytes], list[Number | Flag]] = field(default_factory=lambda: defaultdict(list))

    def likely(self, term: Number | Flag) -> list[Number | Flag]:
        """Those that come to the same."""
        on = meaning.Arrays()
        meaning.evaluate(on, [term], self.values)
        is_number = isinstance(term, Number)
        came = meaning.number(on, term, self.values) if is_number else meaning.flag(on, term, self.values)
        moments = len(next(iter(self.values.values())))
        return self.found[is_number, np.broadcast_to(np.asarray(came, np.int64), moments).tobytes()]

    def known(self, term: Number | Flag, path: Sequence[Flag] = ()) -> Number | Flag:
        """One that the term is proven to be, wherever the path leads, else itself."""
        if isinstance(term, Number):
            term = self.judge.terms.named(term)
        likely = self.likely(term)
        if isinstance(term, bool) or (isinstance(term, Number) and not term.parts) or term in likely:
            return term
        latest = likely[-MOST_CANDIDATES:][::-1]  # of equal nodes that which more hangs on
        found = next((other for other in latest if self.judge.guess(term, other)), term)
        if not (isinstance(term, Number) and isinstance(found, Number)):
            return found
        if found is term:
            return self._known_on(path, term) if path else term
        reach = self.judge.terms.reach(term)  # of the other as well: they are the same wherever they are
        return self.judge.terms.remember(found, reach)

    def _known_on(self, path: Sequence[Flag], term: Number) -> Number:
        """The same where it is so on the path alone."""
        here = under(self.judge.terms, path)
        seen = here.number(term)
        for other in self._likely_on(path, term)[: MOST_CANDIDATES // 2]:
            there = here.number(other)
            judge = Judge(here.terms, self.judge.steps // 100, depth=MOST_CASES)
            if judge.same(seen, there):
                return other
        return term

    def _likely_on(self, path: Sequence[Flag], term: Number) -> list[Number]:
        """Numbers that come to the same at the moments that lead along the path."""
        on, moments = meaning.Arrays(), len(next(iter(self.values.values())))
        meaning.evaluate(on, [term, *path], self.values)
        flags = [np.broadcast_to(meaning.flag(on, flag, self.values), moments) for flag in path]
        taken = np.logical_and.reduce(flags)
        came = np.broadcast_to(np.asarray(meaning.number(on, term, self.values), np.int64), moments)
        if len(set(came[taken])) < FEW:
            return []
        return [
            other
            for (is_number, values), terms in self.found.items()
            if is_number and np.array_equal(np.frombuffer(values, np.int64)[taken], came[taken])
            for other in terms
            if isinstance(other, Number) and other.parts
        ]

    def add(self, term: Number | Flag) -> Number | Flag:
        """A term that is put beside those that come to the same; or the one of them that it plainly is."""
        likely = self.likely(term)
        is_open = isinstance(term, Number) and term.parts and term not in likely
        first = likely[:MOST_CANDIDATES] if is_open else []
        found = next((other for other in first if self.judge.likely_same(term, other)), term)
        if found not in likely:
            likely.append(found)
        return found
