"""`stickwright new`: a starter profile that passes `check`, written where nothing stands yet."""

import argparse
from pathlib import Path

from mixer.cli.shared.console import Console, Exit
from mixer.errors import WriteError
from mixer.files import write_file
from mixer.profile.starter import starter_profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The file to write and the robot's name."""
    parser.add_argument("profile", type=Path, help="the file to write, such as my_robot.toml")
    parser.add_argument("--name", help="the robot's name; default: from the file's name")


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write the starter; an existing file is never overwritten."""
    path: Path = args.profile
    name = args.name or path.stem.replace("_", " ").replace("-", " ")
    text = starter_profile(name)
    if path.exists():
        raise WriteError(f"{path} exists already", "name another file, or remove this one first")
    write_file(path, text)
    console.say(f"{path} written. Next: stickwright check {path}")
    console.document({"profile": str(path), "name": name})
    return Exit.FINE
