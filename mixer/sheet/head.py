"""The top of the page: which robot, which firmware, and the few things to know first."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.sheet.facts import Outcome, Seen, SheetFacts
from mixer.sheet.level import Level
from mixer.sheet.markup import Markup, element, foreign, join
from mixer.sheet.typography import Type

TITLE = 1.7
BIG = 1.35
"""Sizes of the robot's name and of a tile's value, as multiples of the text's."""
TILES = 4
TILE_GAP_MM = 3.0


@dataclass(frozen=True, slots=True)
class Tile:
    """One thing to know first."""

    about: str
    value: str
    words: str
    bad: bool = False


@dataclass(frozen=True, slots=True)
class Head:
    """Name, fingerprints, tiles."""

    name: str
    loadout: str
    about: str
    prints: str
    tiles: tuple[Tile, ...]

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """Name, two lines, tiles."""
        big = Type(type_.size_pt * TITLE, 0)
        title = big.lines(f"{self.name} {self.loadout}", width_mm, bold=True) * big.line_mm
        said = sum(type_.lines(words, width_mm) for words in (self.about, self.prints) if words)
        room = (width_mm - (TILES - 1) * TILE_GAP_MM) / TILES - 2.5
        value = Type(type_.size_pt * BIG, 0)
        tile = max(
            type_.lines(tile.about, room, bold=True) * type_.line_mm
            + value.lines(tile.value, room, bold=True) * value.line_mm
            + type_.lines(tile.words, room) * type_.line_mm
            for tile in self.tiles
        )
        return title + said * type_.line_mm + tile + 3.6

    def html(self) -> Markup:
        """The header element."""
        name = element("h1", foreign(self.name), " ", element("small", foreign(self.loadout)))
        about = element("p", foreign(self.about)) if self.about else Markup("")
        tiles = join(*(_tile(tile) for tile in self.tiles))
        return element("header", name, about, element("p", self.prints), element("dl", tiles))


def _tile(tile: Tile) -> Markup:
    value = element("strong" if tile.bad else "b", foreign(tile.value))
    return element(
        "div", element("dt", tile.about), element("dd", value, " ", element("span", foreign(tile.words)))
    )


def head_of(facts: SheetFacts, level: Level) -> Head:
    """The top of this robot's page."""
    about = facts.robot.robot.about
    if level.brief and level.type_.lines(about, 190) > 1:
        short = f"{about[:90].rstrip()} …"
        about = level.cut((short, about), "lines about the robot", f"the profile {facts.file}", 1)[0]
    loadout = "base robot" if facts.loadout is None else f"loadout {facts.loadout}"
    prints = (
        f"Fingerprints: profile {facts.profile_fingerprint}, exported code {facts.code_fingerprint} "
        "(cat mix.c mix.h | sha256sum begins so)."
    )
    return Head(facts.robot.robot.name, loadout, about, prints, tuple(_tiles(facts)))


def _tiles(facts: SheetFacts) -> Iterator[Tile]:
    stop = facts.stop
    kept = "kept" if stop.kept else "NOT KEPT"
    promise = f"promised {stop.promised_ms:g} ms: {kept}"
    yield Tile("Radio gone, at zero in", f"{stop.worst_ms:g} ms", promise, not stop.kept)
    yield _rules(facts)
    yield _faults(facts)
    yield _receiver(facts)


def _rules(facts: SheetFacts) -> Tile:
    if facts.proven is None:
        return Tile("Rules", "not proven", "left out of this sheet")
    proven, whole = facts.proven.count(Outcome.PROVEN), len(facts.proven.rules)
    broken = facts.proven.count(Outcome.COUNTER_EXAMPLE)
    words = "for all inputs and states" if proven == whole else f"{broken} with a counter-example"
    if proven < whole and not broken:
        words = f"{whole - proven} not settled"
    return Tile("Rules", f"{proven} of {whole} proven", words, proven < whole)


def _faults(facts: SheetFacts) -> Tile:
    if facts.simulated is None:
        return Tile("Faults", "not simulated", "left out of this sheet")
    broken, unseen = facts.simulated.count(Seen.BROKEN), facts.simulated.count(Seen.UNSEEN)
    value = f"{broken} BROKEN" if broken else "none broken"
    words = f"of {len(facts.simulated.faults)} simulated, {unseen} unseen"
    return Tile("Faults", value, words, broken > 0)


def _receiver(facts: SheetFacts) -> Tile:
    found = facts.rehearsed
    if found is None:
        return Tile("This receiver", "not rehearsed", "what it does is not known")
    if found.passed:
        return Tile("This receiver", found.receiver or "not found out", "rehearsal passed")
    how = found.not_passed[0] if found.not_passed else "not gone through"
    return Tile("This receiver", "NOT PASSED", f"{found.receiver or 'not found out'}; {how}", bad=True)
