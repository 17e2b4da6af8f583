"""How closely a page is set. Levels are tried from the roomiest on; the first whose page fits is used.

First the type becomes smaller, down to 9 pt and no further; then words are shortened and lines of one kind
joined, kinds of outputs numbered and shapes told instead of drawn, which loses nothing; only then are lists
cut, and every cut says where the whole list is.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from mixer.sheet.typography import Type

SMALLEST_PT = 9.0
CLOSE = 1.09
"""The leading of the closest pages."""
UNCUT = 1000
FEWEST_NAMES = 3
"""Proven rules that are named on a page however close."""

FIRST = (
    "outputs", "channels", "contacts", "rules", "kinds of faults", "physics", "currents",
    "kinds of warnings",
)  # fmt: skip
"""Lists that get what room is left before the others do."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Cut:
    """A list that is not whole on the page."""

    what: str
    shown: int
    whole: int
    where: str
    """Where the whole list is."""

    def __str__(self) -> str:
        return f"{self.what}: {self.shown} of {self.whole} shown, all in {self.where}"


@dataclass(frozen=True, slots=True)
class Level:
    """One way to set the page."""

    type_: Type
    brief: bool = False
    """Short words for the rules, two side by side."""
    folded: bool = False
    """What holds without more to say shares a line."""
    coded: bool = False
    """Kinds of outputs by a number that a note tells, shapes by their numbers."""
    most: int = UNCUT
    """Lists of channels, outputs and contacts longer than this are cut."""
    results: int = UNCUT
    """The same for kinds of faults and for rules."""
    names: int = UNCUT
    """The same for the names of proven rules that share one sentence."""
    minor: int = UNCUT
    """The same for what is told beside them: physics, currents, shapes, groups, warnings."""
    rooms: Mapping[str, int] = field(default_factory=dict)
    """Room for single lists, by what they list, that counts instead of the above."""
    cuts: list[Cut] = field(default_factory=list)
    """What was cut; filled while the page is built."""

    def cut(self, rows: Sequence[T], what: str, where: str, room: int) -> tuple[T, ...]:
        """The first rows there is room for; says so where some are left out."""
        room = self.rooms.get(what, room)
        if len(rows) <= room:
            return tuple(rows)
        self.cuts.append(Cut(what, room, len(rows), where))
        return tuple(rows[:room])

    def with_room(self, what: str, room: int) -> "Level":
        """The same, with room for so many of one list; nothing is cut yet."""
        return replace(self, rooms={**self.rooms, what: room}, cuts=[])


def rank(what: str) -> int:
    """When a list gets what room is left: smaller is sooner."""
    return FIRST.index(what) if what in FIRST else len(FIRST)


def levels() -> Iterator[Level]:
    """From roomy to close, then with ever shorter lists."""
    for size, pad in ((10.5, 0.6), (10.0, 0.4), (9.5, 0.3), (9.0, 0.25)):
        yield Level(Type(size, pad))
    for size, pad in ((10.0, 0.3), (9.5, 0.25), (9.0, 0.2)):
        yield Level(Type(size, pad), brief=True)
    yield Level(Type(SMALLEST_PT, 0.1), brief=True)
    yield Level(Type(SMALLEST_PT, 0.1), brief=True, folded=True)
    yield Level(Type(SMALLEST_PT, 0.0), brief=True, folded=True)
    closest = Level(Type(SMALLEST_PT, 0.0, CLOSE), brief=True, folded=True)
    yield closest
    closest = replace(closest, coded=True, cuts=[])
    yield closest
    closest = replace(closest, names=FEWEST_NAMES, cuts=[])
    yield closest
    for minor in (8, 7, 6, 5, 4, 3, 2, 1):
        yield replace(closest, minor=minor, cuts=[])
    for results in (9, 8, 7, 6, 5, 4, 3):
        yield replace(closest, minor=1, results=results, cuts=[])
    yield replace(closest, minor=0, results=3, cuts=[])
    for most in (24, 20, 18, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1):
        yield replace(closest, minor=0, results=min(most, 3), most=most, cuts=[])
