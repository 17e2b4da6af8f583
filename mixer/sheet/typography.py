"""Type: how wide text runs and into how many lines it breaks, so that the page's height is known.

The page brings its letters with it (`font/`), so that it is one page whatever fonts a machine has. Text
breaks at spaces; a word longer than its line breaks anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from mixer.markup import LINE_ENDS
from mixer.text import visible

MM_PER_PT = 25.4 / 72
_REGULAR = (
    272, 343, 393, 717, 544, 813, 667, 235, 334, 334, 428, 717, 272, 309, 272, 289, 544, 544, 544,
    544, 544, 544, 544, 544, 544, 544, 289, 289, 717, 717, 717, 454, 855, 585, 587, 597, 659, 540,
    492, 663, 643, 252, 252, 561, 476, 738, 640, 673, 516, 673, 594, 543, 522, 626, 585, 846, 586,
    522, 586, 334, 289, 334, 717, 428, 428, 524, 543, 470, 543, 526, 301, 543, 542, 238, 238, 495,
    238, 833, 542, 523, 543, 543, 352, 446, 335, 542, 506, 699, 506, 506, 449, 544, 289, 544, 717,
)  # fmt: skip
_BOLD = (
    298, 390, 446, 717, 595, 857, 746, 262, 391, 391, 447, 717, 325, 355, 325, 313, 595, 595, 595,
    595, 595, 595, 595, 595, 595, 595, 342, 342, 717, 717, 717, 496, 855, 662, 652, 628, 710, 584,
    584, 702, 716, 318, 318, 663, 545, 851, 716, 727, 627, 727, 659, 616, 584, 694, 662, 943, 660,
    619, 620, 391, 313, 391, 717, 428, 428, 577, 612, 507, 612, 580, 372, 612, 609, 293, 293, 569,
    293, 891, 609, 588, 612, 612, 422, 509, 409, 609, 558, 790, 552, 558, 498, 609, 313, 609, 717,
)  # fmt: skip
"""From space to tilde, each in thousandths of the type's size, rounded up."""
_OTHER = 1000
"""Other letters of the font and of other alphabets, which the machine's fonts draw."""
_WIDEST = 1400
"""Emoji are about 1.3 em and get a little more."""


@dataclass(frozen=True, slots=True)
class Type:
    """The page's type: one size for everything that is read."""

    size_pt: float
    pad_mm: float
    """Above and below every row of a table."""
    leading: float = 1.13
    """From one line to the next, as a multiple of the size."""

    @property
    def line_mm(self) -> float:
        """From one line to the next."""
        return self.size_pt * MM_PER_PT * self.leading

    def width_mm(self, text: str, *, bold: bool = False) -> float:
        """How far the text runs on one line."""
        widths = _BOLD if bold else _REGULAR
        return sum(_width(letter, widths) for letter in text) / 1000 * self.size_pt * MM_PER_PT

    def lines(self, text: str, width_mm: float, *, bold: bool = False) -> int:
        """How many lines the text takes, at least one."""
        return _lines(self, text, width_mm, bold)


@lru_cache(maxsize=8192)  # a page is laid out many times until it fits, of much the same texts
def _lines(type_: Type, text: str, width_mm: float, bold: bool) -> int:
    count, used = 1, 0.0
    space = type_.width_mm(" ", bold=bold)
    for word in visible(text, LINE_ENDS).split():
        wide = type_.width_mm(word, bold=bold)
        start = used + space if used else 0.0
        if start + wide <= width_mm:
            used = start + wide
            continue
        count += 1 if used else 0
        used = wide
        while used > width_mm:
            count, used = count + 1, used - width_mm * 0.9
    return count


def _width(letter: str, widths: Sequence[int]) -> int:
    place = ord(letter) - 32
    if 0 <= place < len(widths):
        return widths[place]
    return _OTHER if ord(letter) < 0x2E80 else _WIDEST
