"""`stickwright keys`: what a profile may say, for people, and as JSON Schema for their editors."""

import argparse
from collections.abc import Sequence
from pathlib import Path

from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, nearest
from mixer.files import check_place, write_file
from mixer.profile.keys.json_schema import FILE, LINE, MARK, schema_text
from mixer.profile.keys.listing import NEEDED, Key, find_keys, key_words, keys
from mixer.profile.schema.words import FIGURES_OF

FULLY = 8
"""So many keys are shown with all their words; more of them in a table."""
COLUMNS = ("key", "unit", "may be", "default", "what it does")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Words to look for, or the schema."""
    parser.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="a key, a section, or words of what it does; default: all keys",
    )
    parser.add_argument(
        "--schema", action="store_true", help="print the JSON Schema by which editors complete a profile"
    )
    parser.add_argument("-o", "--output", type=Path, help=f"with --schema: write it here, such as {FILE}")
    parser.add_argument("--overwrite", action="store_true", help="with -o: replace whatever stands there")


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Explain what was asked for; whatever is unknown ends with the nearest known word."""
    if args.schema:
        return _schema(args, console)
    if args.output is not None:
        raise OptionError("-o is for the schema", "add --schema, or leave -o out")
    words = " ".join(args.words)
    found = find_keys(words) if words else keys()
    if not found:
        near = nearest(words, key_words())
        hint = f"did you mean {near!r}? " if near else ""
        raise OptionError(
            f"no key is called {words!r} or speaks of it", f"{hint}`stickwright keys` lists all"
        )
    if len(found) > FULLY:
        console.table(COLUMNS, [_line(key) for key in found])
    else:
        _explain(found, console)
    console.document([_as_data(key) for key in found])
    return Exit.FINE


def _schema(args: argparse.Namespace, console: Console) -> Exit:
    if args.words:
        raise OptionError("--schema is of all keys", "leave the words out")
    if args.output is None:
        console.raw(schema_text())
        return Exit.FINE
    check_place(args.output, marks=[MARK], overwrite=args.overwrite)
    write_file(args.output, schema_text())
    console.say(f"{args.output} written. The first line of a profile beside it: {LINE.strip()}")
    console.document({"schema": str(args.output)})
    return Exit.FINE


def _explain(found: Sequence[Key], console: Console) -> None:
    for number, key in enumerate(found):
        if number:
            console.say()
        console.heading(key.key)
        console.say(f"    {_kind_of(key)}")
        console.say(f"    {key.what}")
        if key.moves or not key.kind.startswith("table"):
            console.say(f"    moves: {_moves(key)}")


def _kind_of(key: Key) -> str:
    words = " ".join(part for part in (key.kind, f"in {key.unit}" if key.unit else "", key.range) if part)
    default = key.default if key.default in ("", NEEDED) else f"default {key.default}"
    return f"{words}, {default}" if default else words


def _moves(key: Key) -> str:
    """The figures, and the commands that tell them."""
    told = {command: figures for command in FIGURES_OF if (figures := _told_by(command, key))}
    return (
        "; ".join(f"{', '.join(figures)} (`{command}`)" for command, figures in told.items()) or "no figure"
    )


def _told_by(command: str, key: Key) -> list[str]:
    return [figure for figure in key.moves if figure in FIGURES_OF[command]]


def _line(key: Key) -> list[str]:
    return [key.key, key.unit, key.range or key.kind, key.default, key.what]


def _as_data(key: Key) -> dict[str, object]:
    return {
        "key": key.key, "kind": key.kind, "unit": key.unit, "may_be": key.range, "default": key.default,
        "what": key.what, "moves": list(key.moves),
    }  # fmt: skip
