"""What compiles: the firmware's files, the robot's mix, its wiring, a Makefile."""

from importlib.resources import files

from mixer.board.kinds.kind import Board
from mixer.board.project.wiring_h import wiring_text
from mixer.board.wiring.fit import Wiring
from mixer.errors import InternalError
from mixer.lower.c.plain.names import comment_text
from mixer.lower.c.program import header_text, source_text
from mixer.profile.profile import Profile

PORTABLE = (
    "main.c",
    "reader.c",
    "reader.h",
    "frame.c",
    "frame.h",
    "mix_on_board.c",
    "mix_on_board.h",
    "config.h",
    "hal.h",
)
"""Files of `mixer/board/firmware` that every board needs."""
_CHOICE = "BOARD ?= atmega328p"
"""The line of the firmware's Makefile that says which board."""


def sources_of(
    profile: Profile, loadout: str | None, wiring: Wiring, *, tables: bool = True
) -> dict[str, str]:
    """File name -> text of all that ``make`` needs, for one loadout as it is wired.

    With `tables`, what sticks make of their travel is looked up in flash where that pays.
    ``make`` in a folder with these gives ``build/firmware.elf`` and what is flashed of it.
    """
    plan, fingerprint = profile.plan(loadout), profile.fingerprint(loadout)
    board = wiring.board
    mark = f"Written by stickwright with the firmware of {comment_text(plan.name)}; alike for every robot."
    made = {
        "Makefile": _makefile(board, mark),
        f"{board.key}.mk": f"# {mark}\n{_firmware(board.key + '.mk')}",
    }
    for name in (*PORTABLE, *board.sources):
        made[name] = f"/* {mark} */\n{_firmware(name)}"
    made["wiring.h"] = wiring_text(plan.name, wiring)
    made["mix.h"] = header_text(plan, fingerprint)
    made["mix.c"] = source_text(plan, fingerprint, tables=tables)
    return made


def _firmware(name: str) -> str:
    return (files("mixer.board.firmware") / name).read_text(encoding="utf-8")


def _makefile(board: Board, mark: str) -> str:
    """The firmware's own, with the board chosen; its head speaks of the bare reader and is left out."""
    _, found, rest = _firmware("Makefile").partition(_CHOICE)
    if not found:
        raise InternalError(f"the firmware's Makefile has no line {_CHOICE!r}")
    head = (
        f"# {mark}\n#\n"
        "#   make                      build/firmware.elf, and what is flashed of it\n"
        "#   make check                the mix against its test vectors, on this machine\n"
        "#   make size                 what it takes of the chip\n"
        "#   make flash                README.md first\n\n"
    )
    check = (
        "\nHOST_CC ?= cc\n.PHONY: check\ncheck: mix.c mix.h check.c vectors.csv\n\tmkdir -p $(BUILD)\n"
        "\t$(HOST_CC) -std=c99 -O2 mix.c check.c -o $(BUILD)/check\n\t$(BUILD)/check\n"
    )
    return f"{head}BOARD = {board.key}{rest}{check}"
