"""`stickwright export`: the tuned mix as C99 with its test vectors, bit for bit what the bench runs."""

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

from mixer.cli.arguments import add_loadout, add_profile
from mixer.cli.console import Console, Exit
from mixer.cli.overflow import checked_ranges
from mixer.errors import OptionError
from mixer.lower.c.export import export_of
from mixer.lower.c.vectors import Vectors
from mixer.profile import load_profile

OURS = ("stickwright", "tick,channel.")
"""One of these stands near the beginning of every file that an export wrote."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, and the folder that gets the files."""
    add_profile(parser)
    add_loadout(parser)
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="DIR", help="folder for the files"
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write all files, or none where one would replace something that is not an export."""
    profile = load_profile(args.profile)
    fingerprint = profile.fingerprint(args.loadout)
    plan = profile.plan(args.loadout)
    checked_ranges(plan, profile.where)
    export = export_of(plan, fingerprint)
    files = export.files
    folder: Path = args.output
    _write(folder, files)
    console.say(f"{folder}: {', '.join(files)} written, fingerprint {fingerprint}.")
    _tell_vectors(export.vectors, [output.name for output in plan.outputs], console)
    console.say(
        "Next: cc -std=c99 -O2 mix.c check.c -o check && ./check in that folder, then its README.md."
    )
    console.document(
        {
            "folder": str(folder),
            "files": list(files),
            "fingerprint": fingerprint,
            "ticks": export.vectors.ticks,
            "live_ticks": export.vectors.live_ticks,
            "outputs_moved": list(export.vectors.moved),
        }
    )
    return Exit.FINE


def _write(folder: Path, files: Mapping[str, str]) -> None:
    try:
        _refuse_strangers(folder, files)
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
    except (OSError, UnicodeDecodeError) as error:
        raise OptionError(
            f"{folder} cannot be written: {getattr(error, 'strerror', None) or error}",
            "name a folder you may write to, best an empty one",
        ) from error


def _tell_vectors(vectors: Vectors, outputs: Sequence[str], console: Console) -> None:
    still = [name for name in outputs if name not in vectors.moved]
    moved = f"all {len(outputs)} outputs move" if not still else f"never moved: {', '.join(still)}"
    console.say(f"vectors: {vectors.ticks} ticks, live in {vectors.live_ticks} of them, {moved}.")


def _refuse_strangers(folder: Path, names: Mapping[str, str]) -> None:
    for name in names:
        path = folder / name
        if path.exists() and not any(mark in path.read_text(encoding="utf-8")[:2000] for mark in OURS):
            raise OptionError(
                f"{path} was not written by an export", "move it away, or name another folder"
            )
