"""Terms over whole numbers and flags, each written in one way only, with what is known of its bounds.

A number is a sum: a constant and whole multiples of atoms. Whatever two texts do to get there, equal sums,
multiples, shifts by powers of two, smaller-ofs and comparisons become the very same object, so that most
of what has to be shown equal is seen to be. Numbers are the mathematical ones and never wrap.
"""

from collections import ChainMap
from collections.abc import Callable, Iterable, Mapping, MutableMapping
from dataclasses import dataclass, field
from itertools import chain, count
from math import gcd
from typing import Any, NamedTuple, TypeAlias

from mixer.lower.graph.nodes import Range

ANYTHING = Range(-(2**62), 2**62)
FEW = 16
"""So few values are no number of its own."""


@dataclass(frozen=True, eq=False, slots=True)
class Atom:
    """What is no sum: a variable or an operation. There is one object of each."""

    kind: str
    args: tuple[Any, ...]
    order: int
    """Later than that of everything it is made of."""


Parts: TypeAlias = tuple[tuple[Atom, int], ...]


@dataclass(frozen=True, eq=False, slots=True, repr=False)
class Number:
    """`constant` and multiples of atoms, in their order. There is one object of each.

    It has no text of its own: parts are shared, and a failing test would write them out for hours.
    """

    constant: int
    parts: Parts


class Literal(NamedTuple):
    """A comparison or conjunction, or its opposite."""

    atom: Atom
    holds: bool


Flag: TypeAlias = bool | Literal


def opposite(flag: Flag) -> Flag:
    """Not."""
    return not flag if isinstance(flag, bool) else Literal(flag.atom, not flag.holds)


@dataclass
class Terms:
    """One collection of terms, and what is known of them."""

    atoms: dict[tuple[Any, ...], Atom] = field(default_factory=dict)
    numbers: dict[tuple[int, Parts], Number] = field(default_factory=dict)
    known: MutableMapping[Parts, Range] = field(default_factory=dict)
    """Bounds of sums without a constant, without a common factor, the first factor positive."""
    extremes: MutableMapping[Number, tuple[tuple[bool, Number, Number], ...]] = field(default_factory=dict)
    """What the smaller or the larger of what some numbers are."""
    masked: MutableMapping[Number, dict[Number, None]] = field(default_factory=dict)
    """What some remainders by a power of two are remainders of."""
    whole: MutableMapping[Atom, dict[Atom, Flag]] = field(default_factory=dict)
    """What conjunctions ask of a choice: the comparison that was put to its arms, by the choice."""
    orders: Any = field(default_factory=count)
    impossible: bool = False
    """Whether bounds contradict each other: where more was assumed, it cannot be."""

    def assuming(self) -> "Terms":
        """The same terms where more will be known: what is learned there is not known here."""
        known, extremes = ChainMap({}, self.known), ChainMap({}, self.extremes)
        masked, whole = ChainMap({}, self.masked), ChainMap({}, self.whole)
        return Terms(self.atoms, self.numbers, known, extremes, masked, whole, self.orders, self.impossible)

    def learn(self, flags: Mapping[Atom, bool]) -> None:
        """What is so from now on, where it was assumed: the bounds that comparisons leave."""
        for atom, holds in flags.items():
            if atom.kind == "negative":
                self.remember(atom.args[0], Range(ANYTHING.low, -1) if holds else Range(0, ANYTHING.high))
            elif atom.kind == "zero" and holds:
                self.remember(atom.args[0], Range(0, 0))

    def bounds(self, atom: Atom) -> Range:
        """The bounds of an atom."""
        return self.known[(atom, 1),]

    # ---- making ----

    def constant(self, value: int) -> Number:
        """A number everybody knows."""
        return self._number(value, {})

    def variable(self, name: str, reach: Range) -> Number:
        """A number of which only bounds are known."""
        return self._made("variable", (name,), reach)

    def alone(self, atom: Atom) -> Number:
        """An atom as a number."""
        return self._number(0, {atom: 1})

    def _number(self, constant: int, parts: dict[Atom, int]) -> Number:
        ordered = tuple(sorted(((a, k) for a, k in parts.items() if k), key=lambda part: part[0].order))
        found = self.numbers.get((constant, ordered))
        if found is None:
            found = self.numbers[constant, ordered] = Number(constant, ordered)
        return found

    def _atom(self, kind: str, args: tuple[Any, ...]) -> Atom:
        found = self.atoms.get((kind, *args))
        if found is None:
            found = self.atoms[kind, *args] = Atom(kind, args, next(self.orders))
        return found

    def _made(self, kind: str, args: tuple[Any, ...], reach: Range) -> Number:
        return self.remember(self.alone(self._atom(kind, args)), reach)

    def named(self, number: Number) -> Number:
        """The same number as a whole that nothing takes apart, so that one sees what hangs on it alone.

        Few values, and choices of what is known, stay as they are: they are flags in another form.
        """
        if len(number.parts) != 1:
            return number
        ((atom, factor),) = number.parts
        reach = self.known[(atom, 1),]
        if atom.kind in ("variable", "named") or reach.high - reach.low < FEW or _is_picked(atom):
            return number
        made = self._made("named", (self.alone(atom),), reach)
        return self.plus(self.times(made, factor), self.constant(number.constant))

    # ---- bounds ----

    def reach(self, number: Number) -> Range:
        """The bounds of a number, as far as they are known."""
        if not number.parts:
            return Range(number.constant, number.constant)
        low = high = 0
        for atom, factor in number.parts:
            ends = [factor * end for end in self.known[(atom, 1),]]
            low, high = low + min(ends), high + max(ends)
        key, factor = _primitive(number.parts)
        if key in self.known:
            ends = [factor * end for end in self.known[key]]
            low, high = max(low, min(ends)), min(high, max(ends))
        return Range(low + number.constant, high + number.constant)

    def remember(self, number: Number, reach: Range) -> Number:
        """The number, now known to be within these bounds as well."""
        if number.parts:
            key, factor = _primitive(number.parts)
            low, high = sorted(
                (reach.low - number.constant, reach.high - number.constant), key=factor.__mul__
            )
            old = self.known.get(key, ANYTHING)
            known = Range(max(old.low, -(-low // factor)), min(old.high, high // factor))
            self.known[key], self.impossible = known, self.impossible or known.low > known.high
        return number

    # ---- arithmetic ----

    def plus(self, a: Number, b: Number) -> Number:
        """The sum."""
        parts = dict(a.parts)
        for atom, factor in b.parts:
            parts[atom] = parts.get(atom, 0) + factor
        one, two = self.reach(a), self.reach(b)
        made = self._number(a.constant + b.constant, parts)
        self.remember(made, Range(one.low + two.low, one.high + two.high))
        return self._taken_in(made) or made

    def _taken_in(self, number: Number) -> Number | None:
        """min(p, q) - p as min(q - p, 0), if it is such a sum; the larger likewise."""
        for part in number.parts if len(number.parts) > 1 else ():
            atom, factor = part
            atom = atom.args[0].parts[0][0] if atom.kind == "named" else atom
            rest = tuple(other for other in number.parts if other is not part)
            for one, other in (atom.args, atom.args[::-1]) if atom.kind in ("smaller", "larger") else ():
                if rest == tuple((below, -factor * k) for below, k in one.parts):
                    gap = self.minus(other, self._number(0, dict(one.parts)))
                    pick = self.smaller if atom.kind == "smaller" else self.larger
                    found = self.times(pick(gap, self.constant(one.constant)), factor)
                    return self.remember(
                        self.plus(found, self.constant(number.constant)), self.reach(number)
                    )
        return None

    def times(self, a: Number, factor: int) -> Number:
        """A multiple."""
        return self._number(a.constant * factor, {atom: k * factor for atom, k in a.parts})

    def minus(self, a: Number, b: Number) -> Number:
        """The difference."""
        return self.plus(a, self.times(b, -1))

    def product(self, a: Number, b: Number) -> Number:
        """The product; a common factor and the sign stand outside."""
        for one, other in ((a, b), (b, a)):
            if not one.parts:
                return self.times(other, one.constant)
        ends = [x * y for x in self.reach(a) for y in self.reach(b)]
        low = 0 if a is b and min(self.reach(a)) <= 0 <= max(self.reach(a)) else min(ends)
        outside = 1
        pair = []
        for one in (a, b):
            factor = _content(one)
            outside *= factor
            pair.append(self._divided(one, factor))
        pair.sort(key=_place)
        inside = sorted((low, max(ends)), key=outside.__mul__)
        reach = Range(-(-inside[0] // outside), inside[1] // outside)
        return self.times(self._made("product", tuple(pair), reach), outside)

    def quotient(self, a: Number, b: Number) -> Number:
        """The quotient rounded down, where a >= 0 and b > 0; elsewhere that of the nearest such a and b."""
        over, under = self.reach(a), self.reach(b)
        low, high = max(over.low, 0), max(over.high, 0)
        reach = Range(low // max(under.high, 1), high // max(under.low, 1))
        if reach.low == reach.high:
            return self.constant(reach.low)
        return self._made("quotient", (a, b), reach)

    def shift(self, a: Number, bits: int) -> Number:
        """floor(a / 2**bits): whole multiples stand outside, a common factor of two is taken out."""
        reach = Range(self.reach(a).low >> bits, self.reach(a).high >> bits)
        if reach.low == reach.high:
            return self.constant(reach.low)
        kept = {atom: factor for atom, factor in a.parts if factor % (1 << bits)}
        outside = {atom: factor >> bits for atom, factor in a.parts if atom not in kept}
        inside = self._number(a.constant, kept)
        inside, less = self._without_one(inside)
        doubles = () if less is None else (inside.constant,)
        common = gcd(*(factor for _, factor in inside.parts), *doubles, 1 << bits)
        fewer = bits - (common.bit_length() - 1)
        inside = self._divided(inside, common)
        if less is not None:  # one less than a multiple is less by one after division, as floors go
            inside = self._number(inside.constant, dict([*inside.parts, (less, -1)]))
        whole = self._number(inside.constant >> fewer, outside)
        rest = self._number(inside.constant & ((1 << fewer) - 1), dict(inside.parts))
        return self.remember(self.plus(whole, self._shifted(rest, fewer)), reach)

    def _without_one(self, a: Number) -> tuple[Number, Atom | None]:
        """A number without the 1 that is taken off where a flag holds, and that 1."""
        for atom, factor in a.parts:
            if factor == -1 and self._is_one(atom):
                return self._number(
                    a.constant, {other: k for other, k in a.parts if other is not atom}
                ), atom
        return a, None

    def _is_one(self, atom: Atom) -> bool:
        return atom.kind == "choose" and atom.args[1:] == (self.constant(1), self.constant(0))

    def _rounded(self, a: Number, bits: int) -> Number:
        """Where halves go away from zero it is all the same whether zero itself counts as negative."""
        rest, one = self._without_one(a)
        plain = self._number(0, dict(rest.parts))
        if one is None or a.constant != 1 << bits >> 1 or one.args[0] != self.less(plain, self.constant(1)):
            return a
        below = self.choose(self.less(plain, self.constant(0)), self.constant(1), self.constant(0))
        return self.minus(rest, below)

    def _shifted(self, a: Number, bits: int) -> Number:
        if not bits or not a.parts:
            return self.constant(a.constant >> bits) if bits else a
        (atom, factor), *more = a.parts
        if factor < 0:  # -1 - a is a with every bit turned round
            turned, parts = -1 - a.constant, {atom: -k for atom, k in a.parts}
            rest = self._shifted(self._number(turned & ((1 << bits) - 1), parts), bits)
            return self.plus(self.times(rest, -1), self.constant(-1 - (turned >> bits)))
        a = self._rounded(a, bits)
        if atom.kind == "mask" and factor == 1 and not more and not a.constant:
            inner, width = atom.args
            return self.mask(self.shift(inner, bits), width - bits) if width > bits else self.constant(0)
        reach = self.reach(a)
        return self._made("shift", (a, bits), Range(reach.low >> bits, reach.high >> bits))

    def mask(self, a: Number, bits: int) -> Number:
        """The remainder by 2**bits."""
        reach = self.reach(a)
        if reach.low >> bits == reach.high >> bits:
            return self.plus(a, self.constant(-(reach.low >> bits << bits)))
        total = self.constant(a.constant)
        for atom, factor in a.parts:
            part = self.alone(atom)
            if atom.kind == "mask" and atom.args[1] >= bits:
                part = atom.args[0]
            total = self.plus(total, self.times(part, factor))
        parts = {atom: _residue(factor, bits) for atom, factor in total.parts}
        inner = self._number(_residue(total.constant, bits), parts)
        reach = self.reach(inner)
        if reach.low >> bits == reach.high >> bits:
            return self.plus(inner, self.constant(-(reach.low >> bits << bits)))
        made = self._made("mask", (inner, bits), Range(0, 2**bits - 1))
        self.masked[made] = {**self.masked.get(made, {}), a: None}
        return made

    def entry(self, values: tuple[int, ...], at: Number) -> Number:
        """The number of a table; beyond its ends, where nobody asks, its first or last."""
        reach = self.reach(at)
        last = len(values) - 1
        low, high = (min(max(end, 0), last) for end in reach)
        seen = values[low : max(low, high) + 1]
        if min(seen) == max(seen):
            return self.constant(seen[0])
        return self._made("entry", (values, at), Range(min(seen), max(seen)))

    def _divided(self, a: Number, factor: int) -> Number:
        return self._number(a.constant // factor, {atom: k // factor for atom, k in a.parts})

    # ---- choices ----

    def choose(self, flag: Flag, a: Number, b: Number) -> Number:
        """One where the flag holds, else the other; the smaller, the larger and a sign are recognised."""
        if isinstance(flag, bool):
            return a if flag else b
        if a is b:
            return a
        if not flag.holds:
            flag, a, b = opposite(flag), b, a
        if flag in (self.less(a, b), opposite(self.less(b, a))):
            return self.smaller(a, b)
        if flag in (self.less(b, a), opposite(self.less(a, b))):
            return self.larger(a, b)
        found = self._signed(flag, a, b) or self._with_sign(flag, a, b)
        found = found or self._clamped(flag, a, b) or self._clamped(opposite(flag), b, a)
        return found or self._chosen(flag, a, b)

    def _with_sign(self, flag: Flag, a: Number, b: Number) -> Number | None:
        """The number whose amount gets its sign back."""
        for amount, other, sign in ((b, a, 1), (a, b, -1)):
            for least, x, opposed in self.extremes.get(amount, ()):
                if not least and opposed is self.times(x, -1) and other is self.times(amount, -1):
                    negative = self.less(x, self.constant(0))
                    if flag in (negative, opposite(negative)):
                        return self.times(x, sign if flag == negative else -sign)
        return None

    def _signed(self, flag: Flag, a: Number, b: Number) -> Number | None:
        """The number whose remainder by a power of two was taken, where the upper half means negative."""
        if a not in self.masked:
            return None
        bits = a.parts[0][0].args[1]
        half = 2 ** (bits - 1)
        if b is not self.plus(a, self.constant(-2 * half)) or flag != self.less(a, self.constant(half)):
            return None
        for whole in self.masked[a]:
            turns = {(end + half) >> bits for end in self.reach(whole)}
            if len(turns) == 1:
                return self.plus(whole, self.constant(-turns.pop() << bits))
        return None

    def _clamped(self, flag: Flag, a: Number, b: Number) -> Number | None:
        """The larger of a and the smaller of x and c, where a stands for a smaller x; or turned round."""
        for least, x, c in self.extremes.get(b, ()):
            if least and flag == self.less(x, a) and self.reach(a).high <= self.reach(c).low:
                return self.larger(a, b)
            if not least and flag == self.less(a, x) and self.reach(a).low >= self.reach(c).high:
                return self.smaller(a, b)
        return None

    def _chosen(self, flag: Flag, a: Number, b: Number) -> Number:
        """A choice without a common constant, factor or sign."""
        whole = b if a.parts == b.parts else self.constant(b.constant)
        a, b = self.minus(a, whole), self.minus(b, whole)
        factor = gcd(_content(a), _content(b))
        leading = next(iter((*a.parts, *b.parts)), (None, a.constant))[1]
        factor = -factor if leading < 0 else factor
        a, b = self._divided(a, factor), self._divided(b, factor)
        one, two = self.reach(a), self.reach(b)
        reach = Range(min(one.low, two.low), max(one.high, two.high))
        return self.plus(self.times(self._made("choose", (flag, a, b), reach), factor), whole)

    def smaller(self, a: Number, b: Number) -> Number:
        """The smaller of two."""
        return self._extreme(a, b, least=True)

    def larger(self, a: Number, b: Number) -> Number:
        """The larger of two."""
        return self._extreme(a, b, least=False)

    def _extreme(self, a: Number, b: Number, *, least: bool) -> Number:
        one, two = self.reach(a), self.reach(b)
        for number, p, q in ((a, one, two), (b, two, one)):
            if a is b or ((p.high <= q.low) if least else (p.low >= q.high)):
                return number
        made = self._extreme_form(a, b, least)
        self.extremes.setdefault(made, ((least, a, b), (least, b, a)))
        return made

    def _extreme_form(self, a: Number, b: Number, least: bool) -> Number:
        a, b = sorted((a, b), key=_place)
        whole = self.constant(b.constant)
        a, b = self.minus(a, whole), self.minus(b, whole)
        factor = gcd(_content(a), _content(b))
        upright = [self._divided(number, factor) for number in (a, b)]
        turned = [self.times(number, -1) for number in upright]
        upright.sort(key=_place)
        turned.sort(key=_place)
        if ([*map(_place, turned)], not least) < ([*map(_place, upright)], least):
            upright, least, factor = turned, not least, -factor
        made = self._made(
            "smaller" if least else "larger", tuple(upright), self._extreme_reach(upright, least)
        )
        return self.plus(self.times(made, factor), whole)

    def _extreme_reach(self, pair: list[Number], least: bool) -> Range:
        one, two = map(self.reach, pair)
        pick: Callable[[int, int], int] = min if least else max
        reach = Range(pick(one.low, two.low), pick(one.high, two.high))
        if pair[0].parts == self.times(pair[1], -1).parts:  # half of what two come to lies between them
            total = pair[0].constant + pair[1].constant
            low, high = reach
            reach = Range(low, min(high, total // 2)) if least else Range(max(low, -(-total // 2)), high)
        return reach

    # ---- flags ----

    def less(self, a: Number, b: Number) -> Flag:
        """Whether a < b."""
        gap = self.minus(a, b)
        reach = self.reach(gap)
        if reach.high < 0 or reach.low >= 0:
            return reach.high < 0
        key, factor = _primitive(gap.parts)
        (atom, _), *more = key
        if (
            atom.kind == "shift" and factor == 1 and not more
        ):  # where one passes a whole number, so does the other
            return self.less(atom.args[0], self.constant(-gap.constant << atom.args[1]))
        if factor > 0:
            inner = self._number(gap.constant // factor, dict(key))
        else:
            inner = self._number((-gap.constant - 1) // -factor, dict(key))
        made = Literal(self._atom("negative", (inner,)), factor > 0)
        return self._split(gap, lambda part: self.less(part, self.constant(0)), made)

    def equal(self, a: Number, b: Number) -> Flag:
        """Whether a == b."""
        gap = self.minus(a, b)
        reach, nothing = self.reach(gap), self.constant(0)
        if not gap.parts or nothing.constant < reach.low or reach.high < 0:
            return not gap.parts and gap.constant == 0
        if reach.low == 0:
            return self.less(gap, self.constant(1))
        if reach.high == 0:
            return opposite(self.less(gap, nothing))
        key, factor = _primitive(gap.parts)
        if gap.constant % factor:
            return False
        made = Literal(self._atom("zero", (self._number(gap.constant // factor, dict(key)),)), True)
        return self._split(gap, lambda part: self.equal(part, nothing), made)

    def _split(self, gap: Number, asked: Callable[[Number], Flag], made: Literal) -> Flag:
        """A question about a choice put to its arms, where one at least settles it; else as made."""
        (atom, factor), *more = gap.parts
        if more or atom.kind != "choose":
            return made
        flag, *arms = atom.args
        whole = self.constant(gap.constant)
        one, two = (asked(self.plus(self.times(arm, factor), whole)) for arm in arms)
        if not (isinstance(one, bool) or isinstance(two, bool)):
            return made
        found = self.either(self.both(flag, one), self.both(opposite(flag), two))
        if isinstance(found, Literal) and found.atom.kind == "all":
            asked_so = made if found.holds else opposite(made)
            self.whole[found.atom] = {**self.whole.get(found.atom, {}), atom: asked_so}
        return found

    def both(self, *flags: Flag) -> Flag:
        """All of them."""
        found: set[Literal] = set()
        for flag in flags:
            if isinstance(flag, bool):
                if not flag:
                    return False
            elif flag.atom.kind == "all" and flag.holds:
                found |= flag.atom.args[0]
            else:
                found.add(flag)
        if any(opposite(flag) in found for flag in found):
            return False
        for flag in in_order(f for f in found if f.atom.kind == "all"):  # not all of something
            rest = flag.atom.args[0] - found
            if any(opposite(other) in found for other in flag.atom.args[0]):
                found.discard(flag)
            elif rest != flag.atom.args[0]:
                return self.both(*in_order(found - {flag}), opposite(self.both(*in_order(rest))))
        if len(found) < 2:
            return next(iter(found), True)
        return Literal(self._atom("all", (frozenset(found),)), True)

    def either(self, a: Flag, b: Flag) -> Flag:
        """One of two at least."""
        return opposite(self.both(opposite(a), opposite(b)))


def _is_picked(atom: Atom) -> bool:
    """Whether it is a choice of constants."""
    arms = atom.args[1:] if atom.kind == "choose" else ()
    return bool(arms) and all(
        not arm.parts or all(_is_picked(part) for part, _ in arm.parts) for arm in arms
    )


def _primitive(parts: Parts) -> tuple[Parts, int]:
    """The parts without their common factor, the first positive; and that factor."""
    factor = gcd(*(k for _, k in parts))
    factor = -factor if parts[0][1] < 0 else factor
    return tuple((atom, k // factor) for atom, k in parts), factor


def _content(number: Number) -> int:
    """What divides all of a number, with the sign of its first part where it has parts alone."""
    factor = gcd(number.constant, *(k for _, k in number.parts))
    return -factor if number.parts and number.parts[0][1] < 0 else factor


def in_order(literals: Iterable[Literal]) -> list[Literal]:
    """Sets have an order of their own in each process; what is made of them has not."""
    return sorted(literals, key=lambda literal: (literal.atom.order, literal.holds))


def _residue(value: int, bits: int) -> int:
    """What is left by 2**bits, nearest to nothing."""
    half = 1 << bits >> 1
    return ((value + half) & ((1 << bits) - 1)) - half


def _place(number: Number) -> tuple[Any, ...]:
    """Something to sort by."""
    return (len(number.parts), [(a.order, k) for a, k in number.parts], number.constant)


def inside(part: Number | Atom | Flag) -> Iterable[Atom]:
    """The atoms a term is made of at once."""
    if isinstance(part, Number):
        return [atom for atom, _ in part.parts]
    if isinstance(part, bool):
        return []
    if isinstance(part, Literal):
        return [part.atom]
    if part.kind == "all":
        return [literal.atom for literal in in_order(part.args[0])]
    return chain.from_iterable(inside(arg) for arg in part.args if isinstance(arg, Number | Literal | bool))


def cone(parts: Iterable[Number | Atom | Flag], leaves: Iterable[Atom] = ()) -> list[Atom]:
    """All atoms under some terms, what a term is made of before it; nothing below the leaves."""
    seen: set[Atom] = set()
    ends = set(leaves)
    waiting = [atom for part in parts for atom in inside(part)]
    while waiting:
        atom = waiting.pop()
        if atom not in seen:
            seen.add(atom)
            if atom not in ends:
                waiting += inside(atom)
    return sorted(seen, key=lambda atom: atom.order)
