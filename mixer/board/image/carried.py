"""Which robot's mix a program carries: what it says of itself, among the bytes that are flashed."""

import re

from mixer.board.image.elf import Image
from mixer.errors import ImageError

SYMBOL = "mix_fingerprint"
"""The constant in mix.c."""


def require_mix(image: Image, fingerprint: str) -> None:
    """Raise ImageError unless a program carries the mix of this fingerprint.

    An export says its fingerprint in a constant; a program without that constant has to hold the twelve
    digits as text, as the firmware's identity frame does.
    """
    said = image.value(SYMBOL)
    if said is not None:
        found = said.rstrip(b"\0").decode("ascii", "replace")
        if found != fingerprint:
            raise ImageError(
                f"{image.where} carries the mix {found}, the profile's is {fingerprint}",
                "export the profile again and build, or name the loadout that was exported",
            )
    elif not any(re.search(fingerprint.encode(), part.data) for part in image.parts):
        raise ImageError(
            f"{image.where} does not say that it carries the mix {fingerprint}",
            "export the profile again and build with its mix.c; where the linker drops what nothing uses, "
            f"link with -Wl,-u,{SYMBOL}",
        )
