"""Inks: every name a drawing uses is one, words can be read, forward and reverse stay apart for all eyes.

WCAG 2.1, success criterion 1.4.3, asks for 4.5 for words. How far apart plus and minus have to look is our
own choice, no source.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.drawing.colours import BLINDNESS, apart, contrast, lab, linear
from tui.drawing import curve, floor, gate, pad, threads
from tui.styles.palette import Palette
from tui.styles.themes import INKS, themes

SOURCE = Path(__file__).parents[3] / "tui"
WORDS = {
    "card": ("text", "dim", "head", "ok", "warn", "bad", "plus", "minus", "accent", "live"),
    "plate": ("text", "dim", "head", "ok", "warn", "bad", "accent", "live"),
    "page": ("text", "dim", "head", "ok", "warn", "bad", "accent"),
    "live": ("page",),
    "accent": ("page",),
}
"""On each ground, the inks that words are written with there."""
APART = 40.0
"""Twenty times the difference an eye just sees between fields that touch, about 2 (common practice)."""


def leaves(node: ast.expr) -> Iterator[str]:
    """The texts an expression may give, as far as they are written down."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*leaves(node.body), *leaves(node.orelse))


def no_pieces(tree: ast.Module) -> Iterator[ast.AST]:
    """What looks like a piece and is none: what is compared with, and signs with what they mean."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            yield from node.comparators
        elif isinstance(node, ast.AnnAssign) and ast.unparse(node.target) == "signs" and node.value:
            yield from ast.walk(node.value)


def style_names(tree: ast.Module) -> Iterator[str]:
    """Styles in a module: what stands last in a piece, a run or ``GLYPH, STYLE``; grounds of f-strings."""
    other = set(map(id, no_pieces(tree)))
    for node in ast.walk(tree):
        if id(node) in other:
            continue
        if isinstance(node, ast.Tuple) and len(node.elts) == 3:
            yield from leaves(node.elts[-1])
        elif isinstance(node, ast.Tuple) and len(node.elts) == 2 and isinstance(node.elts[1], ast.Constant):
            glyph = node.elts[0]
            if not isinstance(glyph, ast.Constant) or not str(glyph.value).isalnum():
                yield from leaves(node.elts[1])
        elif isinstance(node, ast.JoinedStr):
            for part in node.values:
                if isinstance(part, ast.Constant) and str(part.value).rstrip("!")[1:].isalpha():
                    yield from (f"text{part.value}",) if str(part.value).startswith("/") else ()


NOT_STYLES = {"", "k i", "s w"}
"""What stands in the same place and is none: no group's name, keys of the pads."""


@pytest.mark.parametrize(
    "path",
    sorted([*(SOURCE / "drawing").glob("*.py"), *(SOURCE / "panels").glob("*.py")]),
    ids=lambda path: f"{path.parent.name}-{path.stem}",
)
def test_every_style_named_in_the_source_is_in_every_theme(path: Path) -> None:
    """No drawing and no panel names an ink or a ground that a theme lacks."""
    names = set(style_names(ast.parse(path.read_text(encoding="utf-8")))) - NOT_STYLES
    for theme in themes():
        palette = Palette(theme.variables)
        for name in names:
            palette.style(name)


def test_the_walk_finds_styles() -> None:
    """An ink that nobody has is found in each way of writing one."""
    written = (
        'a = (1, "x", "nink"); b = ("·", "mauve!"); c = (0, "x", "dim" if d else "teal"); e = f"{d}/lawn!"'
    )
    found = set(style_names(ast.parse(written)))
    assert found == {"nink", "mauve!", "dim", "teal", "text/lawn!"}
    with pytest.raises(KeyError):
        Palette(themes()[0].variables).style("text/lawn!")


@pytest.mark.parametrize("theme", themes(), ids=lambda theme: theme.name)
def test_the_canvas_inks_are_in_every_theme(theme: object) -> None:
    """So are the numbered inks of the drawings on dots, and the faces of the guard."""
    palette = Palette(theme.variables)  # type: ignore[attr-defined]
    for module in (curve, floor, pad, threads):
        assert len([palette.style(name) for name in module.INKS]) > 3
    for _, name in gate.FACES.values():
        palette.style(name)


def test_the_measures_are_right() -> None:
    """Black on white is 21 and #767676 on white 4.54 (both from WCAG's own texts); green hides in red."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert lab(linear("#ffffff")) == pytest.approx([100, 0, 0], abs=0.05)
    assert apart("#d00000", "#5a7a00", "deuteranopia") < 10


@pytest.mark.parametrize("theme", INKS)
@pytest.mark.parametrize(("ground", "ink"), [(ground, ink) for ground in WORDS for ink in WORDS[ground]])
def test_words_can_be_read(theme: str, ground: str, ink: str) -> None:
    """Every ink that writes words has a contrast of 4.5 on each ground it writes on."""
    assert contrast(INKS[theme][ink], INKS[theme][ground]) >= 4.5


@pytest.mark.parametrize("theme", INKS)
@pytest.mark.parametrize("blindness", BLINDNESS)
def test_forward_and_reverse_stay_apart(theme: str, blindness: str) -> None:
    """Plus and minus are told apart with each kind of dichromacy."""
    assert apart(INKS[theme]["plus"], INKS[theme]["minus"], blindness) >= APART
