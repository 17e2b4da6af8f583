"""The top of the page: which robot, which firmware, and the few things to know first."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from mixer.board.image.ticktime import TickTime
from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome
from mixer.link.rehearse.report import Outcome
from mixer.markup import Markup, element, foreign, join
from mixer.profile.read.fitting import fitting_of
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level
from mixer.sheet.typography import Type
from mixer.sheet.worst import Concern, concerns

TITLE = 1.45
BIG = 1.25
"""Sizes of the robot's name and of a tile's value, as multiples of the text's."""
TILES = 4
TILE_GAP_MM = 3.0
NOTED = 120
"""Characters of a journal's line."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One thing to know first."""

    about: str
    value: str
    words: str
    bad: bool = False


@dataclass(frozen=True, slots=True)
class Head:
    """Name, the worst thing known, fingerprints, tiles."""

    name: str
    loadout: str
    worst: Concern | None
    more: int
    """How much else speaks against the robot."""
    about: str
    prints: str
    tiles: tuple[Tile, ...]

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """Name, two lines, tiles."""
        big = Type(type_.size_pt * TITLE, 0, type_.leading)
        title = big.lines(f"{self.name} {self.loadout}", width_mm, bold=True) * big.line_mm
        said = sum(type_.lines(words, width_mm) for words in (self.about, self.prints) if words)
        said += type_.lines(f"{self._first()}mm", width_mm, bold=True)
        room = (width_mm - (TILES - 1) * TILE_GAP_MM) / TILES - 2.5
        value = Type(type_.size_pt * BIG, 0, type_.leading)
        tile = max(
            type_.lines(tile.about, room, bold=True) * type_.line_mm
            + value.lines(tile.value, room, bold=True) * value.line_mm
            + type_.lines(tile.words, room) * type_.line_mm
            for tile in self.tiles
        )
        boxed = 1.0 if self.worst is not None and self.worst.fails else 0.0
        return title + said * type_.line_mm + tile + 3.6 + boxed

    def _first(self) -> str:
        if self.worst is None:
            return "Nothing is known to speak against this robot."
        more = f" And {self.more} more below." if self.more else ""
        if self.worst.fails:
            return f"DOES NOT HOLD: {self.worst.words.rstrip('.')}.{more}"
        return f"Nothing known is broken. Open above all: {self.worst.words.rstrip('.')}.{more}"

    def html(self) -> Markup:
        """The header element."""
        name = element("h1", foreign(self.name), " ", element("small", foreign(self.loadout)))
        fails = self.worst is not None and self.worst.fails
        first = element("p", element("strong" if fails else "b", foreign(self._first())), class_="worst")
        about = element("p", foreign(self.about)) if self.about else Markup("")
        tiles = join(*(_tile(tile) for tile in self.tiles))
        return element("header", name, first, about, element("p", self.prints), element("dl", tiles))


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
        about = level.cut((short, about), "lines about the robot", f"the profile {facts.file}", 1)[-1]
    loadout = fitting_of(facts.loadout).title
    prints = (
        f"Fingerprints: profile {facts.profile_fingerprint}, exported code with tables "
        f"{facts.code_fingerprint} (cat mix.c mix.h | sha256sum begins so)."
    )
    if facts.pit is not None:
        prints += f" Pit check {facts.pit.begun}, {facts.pit.fingerprint}: {facts.pit.verdict()}."
    if facts.tick is not None:
        prints += _program(facts.tick)
    for entry in facts.journal:
        prints += f" Journal {entry.at}: {_shortened(entry.what)}."
    known = concerns(facts)
    worst = known[0] if known else None
    alike = sum(other.fails for other in known) if worst and worst.fails else len(known)
    name, tiles = facts.robot.robot.name, tuple(_tiles(facts))
    return Head(name, loadout, worst, max(alike - 1, 0), about, prints, tiles)


def _program(tick: TickTime) -> str:
    """What is known of the compiled program."""
    name, chip = Path(tick.where).name, tick.worst.processor.name
    counted = "interrupts not counted" if tick.round is None else "interrupts counted in a round"
    return (
        f" Program {name} ({chip}, SHA-256 {tick.sha256[:12]}...): {'; '.join(tick.lines())}; "
        f"proven from its bytes, {counted}."
    )


def _shortened(words: str) -> str:
    """A line of the journal, for a page that has room for one."""
    return words if len(words) <= NOTED else f"{words[: NOTED - 2]} …"


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
    ends = Counter(rule.outcome for rule in facts.proven.rules)
    proven, broken, whole = ends[ProofOutcome.PROVEN], ends[ProofOutcome.COUNTER_EXAMPLE], ends.total()
    words = "for all inputs and states" if proven == whole else f"{broken} with a counter-example"
    if proven < whole and not broken:
        words = f"{whole - proven} not settled"
    return Tile("Rules", f"{proven} of {whole} proven", words, proven < whole)


def _faults(facts: SheetFacts) -> Tile:
    if facts.simulated is None:
        return Tile("Faults", "not simulated", "left out of this sheet")
    ends = Counter(fault.verdict for fault in facts.simulated.faults)
    broken, unseen = ends[FaultVerdict.BROKEN], ends[FaultVerdict.UNKNOWABLE]
    value = f"{broken} BROKEN" if broken else "none broken"
    words = f"of {len(facts.simulated.faults)}; {unseen} cannot be known"
    return Tile("Faults, simulated", value, words, broken > 0)


def _receiver(facts: SheetFacts) -> Tile:
    found = facts.rehearsed
    if found is None:
        return Tile("This receiver", "not rehearsed", "what it does is not known")
    kind = str(found.kind or "not found out")
    if found.passed:
        return Tile("This receiver", kind, "rehearsal passed")
    steps = (f"{v.step}: {v.outcome}" for v in found.verdicts if v.outcome is not Outcome.PASSED)
    return Tile("This receiver", "NOT PASSED", f"{kind}; {next(steps, 'not gone through')}", bad=True)
