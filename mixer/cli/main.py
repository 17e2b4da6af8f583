"""The entry point: parse, run one command, turn its outcome into an exit code."""

import argparse
import os
import sys
from collections.abc import Collection, Sequence
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from types import ModuleType
from typing import NoReturn

import shtab

from mixer.cli.console import Console, Exit
from mixer.errors import InternalError, OptionError, StickwrightError

COMMANDS = {
    "bench": "every channel live on the screen: drive, tune, break things, replay",
    "check": "read a profile, find every mistake, show the integers the firmware gets",
    "replay": "run a recorded drive through the mix and say what every output was told",
    "compare": "run one log through two profiles and say where they differ",
    "explain": "follow the numbers from pulse to motor, stage by stage",
    "calibrate": "propose endpoints, centre and deadband from a log of sweeps and rest",
    "failsafe": "simulate every fault, prove the rules, and say what no firmware can see",
    "export": "write the mix as C99 with test vectors, bit for bit what the bench runs",
    "size": "speeds, push, currents, charge, heat, lift and mass, each against its limit",
    "record": "write what the receiver really sends into a log, live from the board",
    "rehearse": "the guided receiver test: what this receiver does when its transmitter goes off",
    "sheet": "print one page for the event: wiring, fail-safe, proofs, physics, checks to sign",
    "new": "write a starter profile with comments",
}
"""Every command with its one-line help; `mixer.cli.NAME` implements it."""

CAUTION = (
    "Wheels off the ground and weapon locked before anything is powered. A simulation is no certificate; "
    "the event's rules decide."
)


class Parser(argparse.ArgumentParser):
    """argparse whose mistakes end like every other bad input: one message, exit code 2."""

    def error(self, message: str) -> NoReturn:
        """Raise what `main` prints; argparse itself would exit."""
        raise OptionError(message, f"see `{self.prog} --help`")


def build_parser(spoken: Collection[str] = tuple(COMMANDS)) -> Parser:
    """The command line; only commands that are `spoken` of bring their modules and their arguments."""
    parser = Parser(
        prog="stickwright",
        description="The bench for the mixing firmware of small remotely driven robots.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"stickwright {_version()}")
    shtab.add_argument_to(parser, "--print-completion", help="print the completion script for a shell")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, help_text in COMMANDS.items():
        command = commands.add_parser(name, help=help_text, description=help_text.capitalize() + ".")
        if name in spoken:
            _module_of(name).add_arguments(command)
        command.add_argument("--json", action="store_true", help="print one JSON document instead of text")
        command.add_argument(
            "--quiet", "-q", action="store_true", help="no notices and no progress on stderr"
        )
    return parser


def main(arguments: Sequence[str]) -> int:
    """Run one command; returns its exit code. Only our own bugs escape as exceptions."""
    console = Console(as_json="--json" in arguments, quiet="-q" in arguments or "--quiet" in arguments)
    try:
        args = build_parser(_spoken_of(arguments)).parse_args(arguments)
        return int(_module_of(args.command).run(args, console))
    except InternalError:
        raise
    except StickwrightError as error:
        console.error(error)
        return int(Exit.BAD_INPUT)
    except KeyboardInterrupt:
        return int(Exit.INTERRUPTED)
    except BrokenPipeError:
        # The reader (head, less) has seen enough; say nothing more, not even at interpreter exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(Exit.FINE)


def entry() -> NoReturn:
    """What the installed `stickwright` script calls."""
    sys.exit(main(sys.argv[1:]))


def _spoken_of(arguments: Sequence[str]) -> Collection[str]:
    """Commands whose arguments this command line needs: all of them for a completion script."""
    completes = any(word.startswith("--p") for word in arguments)
    return tuple(COMMANDS) if completes else COMMANDS.keys() & set(arguments)


def _module_of(command: str) -> ModuleType:
    return import_module(f"mixer.cli.{command}")


def _version() -> str:
    try:
        return version("stickwright")
    except PackageNotFoundError:
        return "from source"
