"""Everything a key, a click in the footer or the command palette can do, in tables.

A table row is the only place where a key, its label and its help are written; footer, help page and
palette read it from here.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


def always(_screen: Any) -> bool:  # noqa: ANN401
    """Whatever there is."""
    return True


@dataclass(frozen=True, slots=True)
class Command:
    """One thing that can be done."""

    keys: tuple[str, ...]
    """Names of keys as the toolkit says them."""
    name: str
    label: str
    """One or two words for the footer."""
    help: str
    run: Callable[[Any], object]
    """Called with the bench's screen, or with the panel that has it in its table; words given are said."""
    foot: int = 3
    """1 = always in the footer, 2 and 3 = where there is room after the panel's own, 0 = not there."""
    said: str = ""
    """How the key is written; empty = from `keys`."""
    when: Callable[[Any], bool] = always
    """Whether it can do anything now, asked of the bench's screen: else foot and help leave it out."""

    @property
    def key(self) -> str:
        """How the key is written in footer and help."""
        return self.said or shown(self.keys[0])


def shown(key: str) -> str:
    """A key's name as people write it."""
    names = {
        "full_stop": ".", "comma": ",", "question_mark": "?", "left_square_bracket": "[",
        "right_square_bracket": "]", "minus": "-", "equals_sign": "=", "less_than_sign": "<",
        "greater_than_sign": ">", "slash": "/",
        "escape": "esc", "up": "↑", "down": "↓", "left": "←", "right": "→",
    }  # fmt: skip
    return names.get(key, key.replace("ctrl+", "^").replace("shift+", "⇧"))
