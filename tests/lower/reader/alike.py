"""Terms that come to the same at every moment of a drive, and which of them are proven to be equal."""

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.lower.reader import meaning
from tests.lower.reader.judge import Judge
from tests.lower.reader.terms import Atom, Flag, Number

MOST_CANDIDATES = 4


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

    def known(self, term: Number | Flag) -> Number | Flag:
        """One that the term is proven to be, else itself."""
        likely = self.likely(term)
        if isinstance(term, bool) or (isinstance(term, Number) and not term.parts) or term in likely:
            return term
        return next((other for other in likely[:MOST_CANDIDATES] if self.judge.guess(term, other)), term)

    def add(self, term: Number | Flag) -> Number | Flag:
        """A term that is put beside those that come to the same; or the one of them that it plainly is."""
        likely = self.likely(term)
        is_open = isinstance(term, Number) and term.parts and term not in likely
        first = likely[:MOST_CANDIDATES] if is_open else []
        found = next((other for other in first if self.judge.same_in_full(term, other)), term)
        if found not in likely:
            likely.append(found)
        return found
