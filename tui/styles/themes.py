"""The two themes, each with a twin whose colours are exact steps of a 256-colour terminal.

Blue is plus and amber is minus: the pair that stays apart for every common kind of colour blindness.
Everything that matters has a glyph and a word as well.
"""

from collections.abc import Mapping

from textual.theme import Theme

INKS: Mapping[str, Mapping[str, str]] = {
    "harbour": {
        "page": "#0e1116", "card": "#151a21", "track": "#232b35", "ghost": "#3a4757", "plate": "#222a35",
        "text": "#c8d0da", "dim": "#8592a3", "faint": "#3f4b5a", "line": "#556476", "head": "#f3f6fa",
        "plus": "#5aaeff", "minus": "#f5a83c", "ok": "#63d2a8", "warn": "#ffd166", "bad": "#ff7d6e",
        "live": "#fdf3c4", "calm": "#6fb7a5", "trail": "#39648f", "hull": "#dfe6ee", "wall": "#6b4a4a",
        "rod": "#7f8da0", "accent": "#c9b8ff",
    },
    "chalk": {
        "page": "#e6e2d8", "card": "#f8f6f0", "track": "#e2ddd0", "ghost": "#c9c3b4", "plate": "#ebe6da",
        "text": "#33363d", "dim": "#5c616b", "faint": "#c2bcae", "line": "#9b968a", "head": "#101216",
        "plus": "#0a62b0", "minus": "#a35205", "ok": "#0a7050", "warn": "#8a5a00", "bad": "#b3261e",
        "live": "#4b2a86", "calm": "#2f7f6d", "trail": "#86abcf", "hull": "#20242b", "wall": "#b98f86",
        "rod": "#7d7a72", "accent": "#5b3fa8",
    },
    "harbour-256": {
        "page": "#121212", "card": "#1c1c1c", "track": "#303030", "ghost": "#4e4e4e", "plate": "#303030",
        "text": "#d0d0d0", "dim": "#9e9e9e", "faint": "#444444", "line": "#626262", "head": "#ffffff",
        "plus": "#5fafff", "minus": "#ffaf5f", "ok": "#5fd7af", "warn": "#ffd75f", "bad": "#ff875f",
        "live": "#ffffaf", "calm": "#5faf87", "trail": "#005f87", "hull": "#eeeeee", "wall": "#875f5f",
        "rod": "#878787", "accent": "#d7afff",
    },
    "chalk-256": {
        "page": "#dadada", "card": "#eeeeee", "track": "#d0d0d0", "ghost": "#b2b2b2", "plate": "#e4e4e4",
        "text": "#303030", "dim": "#585858", "faint": "#bcbcbc", "line": "#8a8a8a", "head": "#080808",
        "plus": "#005faf", "minus": "#875f00", "ok": "#005f00", "warn": "#5f5f00", "bad": "#af0000",
        "live": "#5f00af", "calm": "#00875f", "trail": "#87afd7", "hull": "#262626", "wall": "#af8787",
        "rod": "#767676", "accent": "#5f0087",
    },
}  # fmt: skip
DARK, LIGHT = "harbour", "chalk"


def themes() -> list[Theme]:
    """All four, ready to be registered; the inks are theme variables named ``sw-NAME``."""
    return [_theme(name, inks) for name, inks in INKS.items()]


def name_for(*, dark: bool, colours: int) -> str:
    """The theme for a terminal that tells so many colours apart."""
    name = DARK if dark else LIGHT
    return name if colours > 256 else f"{name}-256"


def _theme(name: str, inks: Mapping[str, str]) -> Theme:
    return Theme(
        name=name,
        primary=inks["plus"],
        secondary=inks["accent"],
        warning=inks["warn"],
        error=inks["bad"],
        success=inks["ok"],
        accent=inks["accent"],
        foreground=inks["text"],
        background=inks["page"],
        surface=inks["card"],
        panel=inks["plate"],
        dark=name.startswith(DARK),
        variables={f"sw-{ink}": colour for ink, colour in inks.items()},
    )
