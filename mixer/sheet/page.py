"""The page: blocks in two columns and in full width, set as roomily as it fits.

A4 and Letter in one: the page is as wide as A4 allows and as high as Letter allows, so that one file prints
to one page on either paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from mixer.errors import InternalError
from mixer.markup import Markup, document, element, join
from mixer.sheet.blocks import Block
from mixer.sheet.cautions import caution_text
from mixer.sheet.checks import checks_for
from mixer.sheet.curves import shape_curves
from mixer.sheet.facts import SheetFacts
from mixer.sheet.faults import fault_table
from mixer.sheet.head import head_of
from mixer.sheet.level import Cut, Level, levels, rank
from mixer.sheet.physics import current_table, physics_table
from mixer.sheet.rules import rule_table
from mixer.sheet.style import GAP_MM, HEIGHT_MM, LEFT_MM, RIGHT_MM, WIDTH_MM, style_sheet
from mixer.sheet.wiring import channel_map, contact_table, guard_text, is_narrow, output_table


@dataclass(frozen=True, slots=True)
class Sheet:
    """The finished page."""

    html: str
    height_mm: float
    """As worked out; what a browser sets is a little less."""
    size_pt: float
    cuts: tuple[Cut, ...]
    """Lists that had to be cut, and where the whole ones are."""


@dataclass(frozen=True, slots=True)
class Page:
    """All blocks at one level."""

    level: Level
    top: tuple[Block, ...]
    left: tuple[Block, ...]
    right: tuple[Block, ...]
    bottom: tuple[Block, ...]

    def height_mm(self) -> float:
        """The whole page."""
        wide = (*self.top, *self.bottom)
        middle = max(self.stack_mm(self.left, LEFT_MM), self.stack_mm(self.right, RIGHT_MM))
        return self.stack_mm(wide, WIDTH_MM) + middle

    def stack_mm(self, blocks: Sequence[Block], width_mm: float) -> float:
        """Blocks above one another, with the air under each."""
        return sum(block.height_mm(width_mm, self.level.type_) + GAP_MM for block in blocks)

    def html(self) -> Markup:
        """The body's one element."""
        columns = element("div", _column(self.left, "left"), _column(self.right, "right"), class_="columns")
        top, bottom = (join(*(block.html() for block in blocks)) for blocks in (self.top, self.bottom))
        return element("main", top, columns, bottom)


def draw_sheet(facts: SheetFacts) -> Sheet:
    """The page of one robot in one loadout. Equal facts give equal bytes."""
    for level in levels():
        page = _page(facts, level)
        if page.height_mm() <= HEIGHT_MM:
            return _sheet(facts, _filled(facts, page))
    raise InternalError("the sheet does not fit on a page, however short its lists")


def _sheet(facts: SheetFacts, page: Page) -> Sheet:
    text = document(f"Data sheet: {facts.plan.name}", style_sheet(page.level.type_), page.html())
    return Sheet(text, page.height_mm(), page.level.type_.size_pt, tuple(page.level.cuts))


def _filled(facts: SheetFacts, page: Page) -> Page:
    """The page with every list that was cut as long as there is room for it, one after the other."""
    for cut in sorted(page.level.cuts, key=lambda cut: rank(cut.what)):
        for shown in range(cut.whole, cut.shown, -1):
            longer = _page(facts, page.level.with_room(cut.what, shown))
            if longer.height_mm() <= HEIGHT_MM:
                page = longer
                break
    return page


def _page(facts: SheetFacts, level: Level) -> Page:
    checks = checks_for(facts)
    simulated, proven = facts.simulated, facts.proven
    top: tuple[Block, ...] = (head_of(facts, level),)
    left: tuple[Block, ...] = (channel_map(facts, level),)
    outputs = output_table(facts, level)
    if not is_narrow(facts, level):
        top += (outputs,)
    elif not level.coded:
        left += (outputs,)
    rest = _there([
        outputs if level.coded else None,
        shape_curves(facts, level),
        contact_table(facts, level),
        None if simulated is None else fault_table(facts, simulated, checks, level),
        None if proven is None else rule_table(facts, proven, level),
        guard_text(facts, level),
        physics_table(facts, level),
        current_table(facts, level),
    ])  # fmt: skip
    bottom = checks, caution_text(facts, level)  # last: it tells what was cut before
    return _balanced(Page(level, top, left, (), bottom), rest)


def _balanced(page: Page, rest: Sequence[Block]) -> Page:
    """The page with the rest of its blocks in the columns so that the higher one is lowest."""
    left, right = page.stack_mm(page.left, LEFT_MM), page.stack_mm(page.right, RIGHT_MM)
    highs = [(page.stack_mm([block], LEFT_MM), page.stack_mm([block], RIGHT_MM)) for block in rest]

    def higher(sides: tuple[int, ...]) -> float:
        ends = [left, right]
        for side, high in zip(sides, highs, strict=True):
            ends[side] += high[side]
        return max(ends)

    best = min(product((0, 1), repeat=len(rest)), key=higher)
    sorted_ = [tuple(block for block, at in zip(rest, best, strict=True) if at == side) for side in (0, 1)]
    return replace(page, left=page.left + sorted_[0], right=page.right + sorted_[1])


def _there(blocks: Sequence[Block | None]) -> tuple[Block, ...]:
    return tuple(block for block in blocks if block is not None)


def _column(blocks: Sequence[Block], name: str) -> Markup:
    return element("div", *(block.html() for block in blocks), class_=name)
