"""`stickwright export`: the tuned mix as C99 with its test vectors, or a board's whole firmware with it."""

import argparse
from collections.abc import Sequence
from pathlib import Path

from mixer.board.kinds.known import BOARDS
from mixer.board.project.burden import burden_of
from mixer.board.project.project import Project, project_of
from mixer.board.project.words import readme_text
from mixer.board.wiring.aboard import wired_as
from mixer.board.wiring.fit import Wiring
from mixer.board.wiring.own import wiring_on
from mixer.board.wiring.settings import fingerprint_of as wiring_fingerprint
from mixer.cli.shared.arguments import (
    add_loadout,
    add_output,
    add_profile,
    add_without,
    inputs_of,
    profile_of,
)
from mixer.cli.shared.console import Console, Exit
from mixer.errors import WriteError
from mixer.files import check_folder, write_folder
from mixer.lower.c.export import MARKS, Export, export_of
from mixer.lower.c.vectors import Vectors
from mixer.lower.graph.ranges import checked_ranges
from mixer.profile.exported import keep
from mixer.profile.profile import Profile

NEXT = "Next: cc -std=c99 -O2 mix.c check.c -o check && ./check in that folder, then its README.md."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, and the folder that gets the files."""
    add_profile(parser)
    add_loadout(parser)
    add_without(parser)
    parser.add_argument(
        "--board",
        metavar="NAME",
        help=f"the whole firmware for this board ({', '.join(BOARDS)}); default: the mix alone",
    )
    parser.add_argument(
        "--tables",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="look up in flash what sticks make of their travel, where that saves three products or more: "
        "some 600 bytes a shape and stick, in less time; --no-tables calculates it (default: tables)",
    )
    add_output(parser, "DIR", "folder for the files", required=True)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write all files, or none where one would replace something that is not an export."""
    profile = profile_of(args)
    fingerprint, plan = profile.fingerprint(args.loadout), profile.plan(args.loadout)
    checked_ranges(plan, profile.where)
    wiring = None if args.board is None else wiring_on(profile, args.loadout, args.board)
    if wiring is None:
        export: Export | Project = export_of(plan, fingerprint, tables=args.tables)
    else:
        export = project_of(profile, args.loadout, wiring, args.output, tables=args.tables)
    files, folder = export.files, args.output
    check_folder(folder, files, inputs=inputs_of(args), marks=MARKS, overwrite=args.overwrite)
    if wiring is not None:
        files = {**files, "README.md": _readme(args, profile, wiring, console)}
    write_folder(folder, files)
    _keep(profile, args.loadout, folder, wiring, console)
    console.say(f"{folder}: {', '.join(files)} written, fingerprint {fingerprint}.")
    _tell_vectors(export.vectors, [output.name for output in plan.outputs], console)
    for line in (NEXT,) if wiring is None else _next(wiring):
        console.say(line)
    console.document(
        {
            "folder": str(folder),
            "files": list(files),
            "fingerprint": fingerprint,
            "ticks": export.vectors.ticks,
            "live_ticks": export.vectors.live_ticks,
            "outputs_moved": list(export.vectors.moved),
        }
        | ({} if wiring is None else {"board": wiring.board.key, "wiring": wiring_fingerprint(wiring)})
    )
    return Exit.FINE


def _readme(args: argparse.Namespace, profile: Profile, wiring: Wiring, console: Console) -> str:
    """The project's README, with how long its firmware takes where that can be built here."""
    with console.progress("building the firmware", 1.0):
        burden = burden_of(profile, args.loadout, wiring, tables=args.tables)
    for words in burden.unknown:
        console.notice(words)
    for words in burden.against():
        console.notice(f"it does not fit the {wiring.board.name}: {words}")
    return readme_text(profile, args.loadout, wiring, args.output, burden.time)


def _next(wiring: Wiring) -> tuple[str, str]:
    chosen = sum(len(wire.key) > 1 for wire in wiring.assigned)
    pins = (
        f"; {chosen} pin{'s were' if chosen > 1 else ' was'} chosen for you, see WIRING.md"
        if chosen
        else ""
    )
    return (
        f"wiring {wiring_fingerprint(wiring)} on the {wiring.board.name}{pins}.",
        "Next: README.md in that folder, its cautions first; then make, make check, make flash.",
    )


def _keep(
    profile: Profile, loadout: str | None, folder: Path, wiring: Wiring | None, console: Console
) -> None:
    """Keep the values beside the profile: what has changed since can be said of a board that runs them."""
    try:
        keep(profile, loadout, folder, None if wiring is None else wired_as(wiring))
    except WriteError as error:
        console.notice(
            f"not kept beside the profile, so nobody can say later what has changed: {error.said}"
        )


def _tell_vectors(vectors: Vectors, outputs: Sequence[str], console: Console) -> None:
    still = [name for name in outputs if name not in vectors.moved]
    moved = f"all {len(outputs)} outputs move" if not still else f"never moved: {', '.join(still)}"
    console.say(f"vectors: {vectors.ticks} ticks, live in {vectors.live_ticks} of them, {moved}.")
