"""The simulated chips there are, by the keys of the boards they stand on."""

from collections.abc import Callable, Mapping
from importlib import import_module

from mixer.board.chip.chip import Chip
from mixer.board.image.elf import Image

_MAKERS: Mapping[str, str] = {
    "atmega328p": "mixer.board.chip.avr:AvrChip",
    "rp2040": "mixer.board.chip.rp2040:Rp2040Chip",
}
"""Imported when asked for: each needs a simulator of its own."""


def chip_of(board: str, image: Image, seed: int = 1) -> Chip:
    """A chip of a board at power-up, running an image.

    Raises MissingToolError that says what to install, ImageError for an image of another chip.
    """
    module, _, name = _MAKERS[board].partition(":")
    maker: Callable[[Image, int], Chip] = getattr(import_module(module), name)
    return maker(image, seed)
