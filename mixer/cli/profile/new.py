"""`stickwright new`: a profile that passes `check`, written where nothing stands yet."""

import argparse
from collections.abc import Mapping
from pathlib import Path

from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, WriteError
from mixer.examples.shipped import example_logs, example_text
from mixer.files import check_place, write_file
from mixer.profile.edit.document import Editor
from mixer.profile.keys.json_schema import FILE, LINE, MARK, schema_text
from mixer.profile.starter import checked_title, starter_profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The file to write, the robot's name, and what to begin from."""
    parser.add_argument("profile", type=Path, help="the file to write, such as my_robot.toml")
    parser.add_argument("--name", help="the robot's name; default: from the file's name")
    parser.add_argument(
        "--like", metavar="ROBOT", help="begin from an example robot, such as sample_carrier"
    )
    parser.add_argument(
        "--logs", action="store_true", help="with --like: that robot's recorded drives as well, beside it"
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write the profile and what belongs to it; an existing file is never overwritten."""
    path: Path = args.profile
    name = checked_title(args.name or path.stem.replace("_", " ").replace("-", " "))
    files = _like(args, name) if args.like is not None else {path: _pointing(starter_profile(name))}
    if args.logs and args.like is None:
        raise OptionError("--logs are those of an example robot", "name it with --like")
    for each in files:
        if each.exists():
            raise WriteError(f"{each} exists already", "name another file, or remove this one first")
    schema = path.parent / FILE
    check_place(schema, marks=[MARK])
    for each, data in {schema: schema_text().encode(), **files}.items():
        write_file(each, data)
    logs = [str(each) for each in files if each.suffix == ".csv"]
    console.say(f"{path} written. Next: stickwright check {path}")
    for log in logs:
        console.say(f"{log} written. Next: stickwright replay {path} {log}")
    console.document({"profile": str(path), "name": name, "logs": logs})
    return Exit.FINE


def _like(args: argparse.Namespace, name: str) -> Mapping[Path, bytes]:
    """An example robot under a name of its own, its comments kept, and its drives where they are wanted."""
    path: Path = args.profile
    editor = Editor(example_text(args.like, path))
    files = {path: _pointing(editor.set(("robot", "name"), name))}
    logs = example_logs(args.like) if args.logs else ()
    if args.logs and not logs:
        raise OptionError(f"there is no recorded drive of {args.like}", "leave --logs out")
    return files | {path.parent / log.name: log.read_bytes() for log in logs}


def _pointing(text: str) -> bytes:
    """The profile with the line by which editors find the schema beside it."""
    return (LINE + text).encode()
