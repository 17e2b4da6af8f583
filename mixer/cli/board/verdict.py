"""What `check` says of a board: whether the robot fits, which wire goes where, and what would help."""

from collections.abc import Hashable, Sequence
from typing import Any

from mixer.board.kinds.kind import Board
from mixer.board.kinds.known import BOARDS, board_named
from mixer.board.project.burden import Burden, burden_of
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.reasons import GIVEN, Remedy, reason, remedies
from mixer.board.wiring.settings import fingerprint_of
from mixer.board.wiring.table import left_out_words, levels_of, rows_of, toml_lines
from mixer.cli.shared.console import Console, Exit
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of

ALL = "all"
COLUMNS = ("wire", "carries", "pin", "chip's", "what belongs there")


def boards_asked(named: str | None, profile: Profile) -> list[Board]:
    """The board that is asked for, all of them, or that of the profile. Raises OptionError."""
    if named == ALL:
        return list(BOARDS.values())
    key = named or profile.robot(None).robot.board
    return [] if key is None else [board_named(key)]


def tell_boards(
    profile: Profile, loadouts: Sequence[str | None], named: str | None, console: Console
) -> tuple[Exit, list[dict[str, Any]]]:
    """Whether each loadout fits each board that is asked for; in full where one board is named.

    It fails where one does not fit; with `all` only where none is left that fits.
    """
    reports: list[dict[str, Any]] = []
    for board in boards_asked(named, profile):
        groups = _alike([(loadout, fit(profile, loadout, board)) for loadout in loadouts])
        for number, (alike, made) in enumerate(groups):
            full = named not in (None, ALL) and number == 0
            reports.append(_told(profile, alike, made, console, full=full))
    codes = [Exit.FINE if each["fits"] else Exit.BAD_INPUT if each["problems"] else Exit.FAILED
             for each in reports]  # fmt: skip
    if named == ALL:
        whole = {key for key in BOARDS if all(each["fits"] for each in reports if each["board"] == key)}
        return Exit.FINE if whole else Exit.FAILED, reports
    return max(codes, default=Exit.FINE), reports


def _alike(
    found: Sequence[tuple[str | None, Wiring | Misfit]],
) -> list[tuple[list[str | None], Wiring | Misfit]]:
    """Loadouts of which the same is to be said, together."""
    groups: dict[Hashable, tuple[list[str | None], Wiring | Misfit]] = {}
    for loadout, made in found:
        told: Hashable = (fingerprint_of(made), rows_of(made)) if isinstance(made, Wiring) else (
            reason(made), tuple(problem.where for problem in made.problems)
        )  # fmt: skip
        groups.setdefault(told, ([], made))[0].append(loadout)
    return list(groups.values())


def _told(
    profile: Profile, loadouts: Sequence[str | None], made: Wiring | Misfit, console: Console, *, full: bool
) -> dict[str, Any]:
    board = made.board
    names = [fitting_of(loadout).words or "base" for loadout in loadouts]
    who = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
    report: dict[str, Any] = {
        "board": board.key,
        "loadouts": list(loadouts),
        "fits": isinstance(made, Wiring),
    }
    report |= {"problems": [], "reason": "", "remedies": []}
    if isinstance(made, Wiring):
        console.say(f"on the {board.name} ({who}): it fits, wiring {fingerprint_of(made)}")
        if full:
            _tell_wiring(made, console)
            with console.progress("building the firmware", 1.0):
                burden = burden_of(profile, loadouts[0], made)
            report |= _tell_burden(burden, console)
        return report | _wiring_data(made)
    why = _why(profile, loadouts[0], made)
    console.say(f"on the {board.name} ({who}): it does not fit: {why}")
    for line in (line for problem in made.problems for line in str(problem).splitlines()):
        console.say(line)
    helps = list(remedies(profile, loadouts[0], board))
    _tell_remedies(helps, console, full=full)
    report["problems"] = [str(problem) for problem in made.problems]
    report["reason"] = why
    report["remedies"] = [
        {"board": help_.wiring.board.key, "change": help_.words, **_wiring_data(help_.wiring)}
        for help_ in helps
    ]
    return report


def _why(profile: Profile, loadout: str | None, made: Misfit) -> str:
    """What is short, with pins of Stickwright's own choosing where those given cannot be."""
    if not made.problems:
        return reason(made)
    freely = fit(profile, loadout, made.board, anew=True)
    return GIVEN if isinstance(freely, Wiring) else reason(freely) or GIVEN


def _tell_wiring(wiring: Wiring, console: Console) -> None:
    rows = [
        (row.wire, row.carries, f"{row.pin}{' *' * row.assigned}", row.chip, row.level)
        for row in rows_of(wiring)
    ]
    console.table(COLUMNS, rows)
    for words in levels_of(wiring):
        console.say(words)
    if wiring.assigned:
        console.say("* chosen by Stickwright: the profile gives none for this board")
    for words in left_out_words(wiring):
        console.say(words)
    lines = toml_lines(wiring)
    if lines:
        console.say()
        console.say("To keep these pins whatever else changes, write into the profile:")
        for line in lines:
            console.say(line)


def _tell_burden(burden: Burden, console: Console) -> dict[str, Any]:
    """Time, flash and RAM; what was not found out is told as well."""
    console.say()
    for words in burden.words():
        console.say(words)
    for words in burden.unknown:
        console.notice(words)
    for words in burden.against():
        console.say(f"so it does not fit the {burden.board.name} after all: {words}")
    return {
        "fits": burden.fits,
        "mix_cycles": burden.time and burden.time.cycles,
        "mix_ms": burden.time and burden.time.ms,
        "round_cycles": burden.time and burden.time.round and burden.time.round.cycles,
        "round_over_ms": burden.time and burden.time.round and burden.time.round.over_after_ms,
        "flash_bytes": burden.flash_bytes,
        "ram_bytes": burden.ram_bytes,
        "unknown": list(burden.unknown),
        "against": list(burden.against()),
    }


def _tell_remedies(helps: Sequence[Remedy], console: Console, *, full: bool) -> None:
    """What was tried and found to fit; that of this board, else the first, in full."""
    for help_ in helps:
        console.say(f"It fits the {help_.wiring.board.name} {help_.change}.")
    if not helps:
        console.say("No board that Stickwright knows carries it, by a pulse-sum wire neither.")
    elif full:
        console.say()
        console.say(f"On the {helps[0].wiring.board.name}:")
        _tell_wiring(helps[0].wiring, console)


def _wiring_data(wiring: Wiring) -> dict[str, Any]:
    return {
        "wiring": fingerprint_of(wiring),
        "baud": wiring.baud,
        "line_share": round(wiring.line_share, 3),
        "wires": [
            {
                "wire": row.wire,
                "carries": row.carries,
                "pin": row.pin,
                "chip": row.chip,
                "assigned": row.assigned,
            }
            for row in rows_of(wiring)
        ],
        "left_out": [str(wire.use) for wire in wiring.left_out],
        "toml": toml_lines(wiring),
    }
