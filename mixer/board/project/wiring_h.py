"""wiring.h: a wiring as the firmware's C reads it (`config.h` says what each line means)."""

from collections.abc import Sequence

from mixer.board.kinds.kind import NO_PIN
from mixer.board.project.filling import fill
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.settings import fingerprint_of, settings_of
from mixer.lower.c.plain.names import comment_text

LISTS = (
    "CHANNEL_PINS",
    "CONTACT_INPUT_PINS",
    "OUTPUT_KINDS",
    "OUTPUT_PINS",
    "OUTPUT_DIRECTION_PINS",
    "OUTPUT_TOPS",
    "OUTPUT_RESTS",
    "OUTPUT_BRAKES",
)
"""Those with a number for each wire; C wants one at least."""


def wiring_text(robot: str, wiring: Wiring) -> str:
    """The header's text, for a robot of that name."""
    numbers: dict[str, list[str]] = {name: [] for name in LISTS}
    for setting in settings_of(wiring):
        numbers.setdefault(setting.macro, []).append(setting.number)
    lines = {name: _list(found) if name in LISTS else found[0] for name, found in numbers.items()}
    return fill(
        "wiring.h",
        robot=comment_text(robot),
        board=wiring.board.name,
        wiring=fingerprint_of(wiring),
        names=comment_text(", ".join(wiring.robot.output)),
        **lines,
    )


def _list(items: Sequence[str]) -> str:
    return f"{{ {', '.join(items or [f'0x{NO_PIN:02X}'])} }}"
