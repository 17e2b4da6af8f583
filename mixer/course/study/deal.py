"""In which order two tunings are driven: by lot, balanced, and told to nobody before the end.

Blocks of two pairs: in one of them A comes first, in the other B, by lot which. Practice and tiredness then
fall on both alike. Randomised blocks: J. Efird, "Blocked randomization with randomly selected block sizes",
Int. J. Environ. Res. Public Health 8 (2011) 15-20.
"""

import random

ORDERS = (("A", "B"), ("B", "A"))


def order_of(seed: int, pair: int) -> tuple[str, str]:
    """Which tuning is driven first and which second in pair number `pair`, from 0."""
    block = list(ORDERS)
    random.Random(f"{seed} {pair // 2}").shuffle(block)  # noqa: S311 - a lot, not a secret
    return block[pair % 2]
