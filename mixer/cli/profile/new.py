"""`stickwright new`: a profile that passes `check`, written where nothing stands yet."""

import argparse
from collections.abc import Mapping
from pathlib import Path

from mixer.cli.profile.asking import ask_all, read_answers
from mixer.cli.shared.arguments import add_path
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, WriteError
from mixer.examples.shipped import example_logs, example_text
from mixer.files import check_place, write_file
from mixer.profile.begin.writing import profile_text
from mixer.profile.edit.document import Editor
from mixer.profile.keys.json_schema import FILE, LINE, MARK, schema_text
from mixer.profile.starter import checked_title, starter_profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The file to write, the robot's name, and what to begin from."""
    parser.add_argument("profile", type=Path, help="the file to write, such as my_robot.toml")
    parser.add_argument("--name", help="the robot's name; default: from the file's name")
    begin = parser.add_mutually_exclusive_group()
    begin.add_argument(
        "--like", metavar="ROBOT", help="begin from an example robot, such as sample_carrier"
    )
    begin.add_argument(
        "--ask", action="store_true", help="ask about the robot and write all of it, physics included"
    )
    add_path(begin, "--answers", metavar="FILE", help="as --ask, with the answers from a TOML file")
    parser.add_argument(
        "--logs", action="store_true", help="with --like: that robot's recorded drives as well, beside it"
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write the profile and what belongs to it; an existing file is never overwritten."""
    path: Path = args.profile
    name = checked_title(args.name or path.stem.replace("_", " ").replace("-", " "))
    logs, schema = _logs(args), path.parent / FILE
    _need_free(path, *logs)
    check_place(schema, marks=[MARK])
    text = LINE + _text(args, name, console)
    _need_free(path, *logs)  # questions take their time
    for each, data in {schema: schema_text().encode(), path: text.encode(), **logs}.items():
        write_file(each, data)
    console.say(f"{path} written. Next: stickwright check {path}")
    for log in logs:
        console.say(f"{log} written. Next: stickwright replay {path} {log}")
    console.document({"profile": str(path), "name": name, "logs": [str(log) for log in logs]})
    return Exit.FINE


def _need_free(*paths: Path) -> None:
    for path in paths:
        if path.exists():
            raise WriteError(f"{path} exists already", "name another file, or remove this one first")


def _text(args: argparse.Namespace, name: str, console: Console) -> str:
    """An example robot under a name of its own, one made of answers, or the starter; comments in all."""
    if args.like is not None:
        return Editor(example_text(args.like, args.profile)).set(("robot", "name"), name)
    if args.answers is not None:
        return profile_text(name, read_answers(args.answers))
    return profile_text(name, ask_all(console)) if args.ask else starter_profile(name)


def _logs(args: argparse.Namespace) -> Mapping[Path, bytes]:
    """The recorded drives that are wanted, each with the place it gets."""
    if not args.logs:
        return {}
    if args.like is None:
        raise OptionError("--logs are those of an example robot", "name it with --like")
    logs = example_logs(args.like)
    if not logs:
        raise OptionError(f"there is no recorded drive of {args.like}", "leave --logs out")
    folder: Path = args.profile.parent
    return {folder / log.name: log.read_bytes() for log in logs}
