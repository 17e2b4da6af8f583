"""How far apart colours look: contrast of words, and distance as somebody with a colour blindness sees it.

Contrast: WCAG 2.1, definitions of relative luminance and contrast ratio. Colour blindness: the matrices of
severity 1.0 of Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color
Vision Deficiency", IEEE TVCG 15(6), 2009, on linear sRGB; distances are CIE 1976 (ISO/CIE 11664-4).
"""

from collections.abc import Sequence
from math import dist

BLINDNESS = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def linear(colour: str) -> list[float]:
    """Linear sRGB of ``#rrggbb`` (IEC 61966-2-1)."""
    shares = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    return [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21."""
    dark, light = sorted(
        0.2126 * red + 0.7152 * green + 0.0722 * blue for red, green, blue in (linear(one), linear(other))
    )
    return (light + 0.05) / (dark + 0.05)


def lab(colour: Sequence[float]) -> list[float]:
    """CIE L*a*b* of linear sRGB under D65."""
    red, green, blue = (min(max(share, 0.0), 1.0) for share in colour)
    x = (0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.9505
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = (0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.0890
    fx, fy, fz = (
        value ** (1 / 3) if value > (6 / 29) ** 3 else value / (3 * (6 / 29) ** 2) + 4 / 29
        for value in (x, y, z)
    )
    return [116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)]


def apart(one: str, other: str, blindness: str) -> float:
    """How far apart two colours look to somebody with a colour blindness."""
    rows = BLINDNESS[blindness]
    seen = [
        lab([sum(a * b for a, b in zip(row, colour, strict=True)) for row in rows])
        for colour in (linear(one), linear(other))
    ]
    return dist(*seen)
