"""Stickwright without a screen: the mixing core and everything built on it.

    import mixer

    robot = mixer.load("profiles/tank_pair.toml")

`load`, `Robot` and `StickwrightError` are the front door for programs (`mixer.program.robot` has the
words on each); they are imported when first asked for, so that `import mixer` costs nothing.
Imports run one way; `tests/test_architecture.py` draws and enforces the order.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mixer.errors import StickwrightError
    from mixer.program.robot import Robot, load

__all__ = ["Robot", "StickwrightError", "load"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever is behind the door; the types stand above
    """What is asked for by name, from where it is made."""
    if name not in __all__:
        raise AttributeError(f"module 'mixer' has no attribute {name!r}")
    home = "mixer.errors" if name == "StickwrightError" else "mixer.program.robot"
    return getattr(import_module(home), name)
