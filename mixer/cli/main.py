"""The entry point: parse, run one command, turn its outcome into an exit code."""

import argparse
import sys
from collections.abc import Collection, Sequence
from importlib import import_module
from types import ModuleType
from typing import Any, NoReturn

from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.ends import Stopped, crashed, silence_stdout, stopping_raises
from mixer.errors import InternalError, OptionError, StdoutError, StickwrightError

COMMANDS = {
    "bench": "every channel live on the screen: drive, tune, break things, replay",
    "check": "read a profile, find every mistake, show the integers the firmware gets",
    "replay": "run a recorded drive through the mix and say what every output was told",
    "review": "what recorded drives say: sticks, stops, losses, strain, and the moments worth seeing",
    "compare": "run one log through two profiles and say where they differ",
    "explain": "follow the numbers from pulse to motor, stage by stage",
    "calibrate": "propose endpoints, centre and deadband from a log of sweeps and rest",
    "failsafe": "simulate every fault, prove the rules, and say what no firmware can see",
    "export": "write the mix as C99 with test vectors, bit for bit what the bench runs",
    "tick": "prove how long one tick of the compiled program takes at most, and how deep its stack goes",
    "size": "speeds, push, currents, charge, heat, lift and mass, each against its limit",
    "record": "write what the receiver really sends into a log, live from the board",
    "rehearse": "the guided receiver test: what this receiver does when its transmitter goes off",
    "course": "measure runs of the bench's course again, and compare two tunings by them",
    "pit": "two minutes before a match: one list, from the scale to the radio, and one verdict",
    "sheet": "print one page for the event: wiring, fail-safe, proofs, physics, checks to sign",
    "new": "begin a profile: a starter with comments, one of the example robots, or by answering questions",
    "feel": "what to turn for what a driver feels: twitchy, sluggish, pulls to one side ...",
    "keys": "explain what a profile may say, key by key; the schema for editors",
}
"""Every command with its one-line help; `mixer.cli.NAME` implements it, or one in a folder of `FOLDERS`."""
FOLDERS = {"new": "profile.", "keys": "profile.", "feel": "profile.", "pit": "link.", "tick": "board."}

CAUTION = (
    "Wheels off the ground and weapon locked before anything is powered. A simulation is no certificate; "
    "the event's rules decide."
)


SHELLS = ("bash", "zsh", "tcsh")
"""For which a completion script is made."""


class Parser(argparse.ArgumentParser):
    """argparse whose mistakes end like every other bad input, and whose options are spoken in full."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401  whatever argparse takes
        super().__init__(allow_abbrev=False, **settings)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:  # noqa: ANN401
        """Words after an option belong to the list before it: `feel PROFILE --loadout X twitchy`."""
        found, rest = super().parse_known_args(args, namespace)
        lists = [
            action for action in self._actions if not action.option_strings and action.nargs in ("*", "+")
        ]
        if not lists or any(word.startswith("-") for word in rest):
            return found, rest
        (many,) = lists
        make = many.type if callable(many.type) else str
        setattr(found, many.dest, [*getattr(found, many.dest), *map(make, rest)])
        return found, []

    def error(self, message: str) -> NoReturn:
        """Raise what `main` prints; argparse itself would exit."""
        raise OptionError(message, f"see `{self.prog} --help`")


class _Version(argparse.Action):
    """Looked up only when asked for: finding it costs more than everything else."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

        try:
            number = version("stickwright")
        except PackageNotFoundError:
            number = "from source"
        sys.stdout.write(f"stickwright {number}\n")
        parser.exit()


class _Completion(argparse.Action):
    """The script is made by shtab, imported on use."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        _namespace: object,
        shell: Any,  # noqa: ANN401
        *_: object,
    ) -> NoReturn:
        from shtab import complete  # noqa: PLC0415

        sys.stdout.write(complete(parser, shell) + "\n")
        parser.exit()


def build_parser(spoken: Collection[str] = tuple(COMMANDS)) -> Parser:
    """The command line; only commands that are `spoken` of bring their modules and their arguments."""
    parser = Parser(
        prog="stickwright",
        description="The bench for the mixing firmware of small remotely driven robots.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version, and end")
    parser.add_argument(
        "--print-completion",
        action=_Completion,
        choices=SHELLS,
        default=argparse.SUPPRESS,
        help="print the completion script for a shell, and end",
    )
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
    """Run one command; returns its exit code. Nothing escapes, our own bugs included."""
    console = Console(as_json="--json" in arguments, quiet="-q" in arguments or "--quiet" in arguments)
    try:
        with stopping_raises():
            return _run(arguments, console)
    except KeyboardInterrupt:
        return int(Exit.INTERRUPTED)
    except Stopped as stopped:
        return stopped.code
    except BrokenPipeError:
        # The reader (head, less) has seen enough.
        silence_stdout()
        return int(Exit.FINE)
    except Exception as error:
        if isinstance(error, StickwrightError) and not isinstance(error, InternalError):
            console.error(error)
            if isinstance(error, StdoutError):
                silence_stdout()
            return int(Exit.BAD_INPUT)
        return int(crashed(error, arguments, console))


def _run(arguments: Sequence[str], console: Console) -> int:
    console.raw("")  # before any work: is there anybody to tell?
    try:
        args = build_parser(_spoken_of(arguments)).parse_args(arguments)
    except SystemExit as ended:  # help, version and completion have been printed
        console.raw("")
        return int(ended.code or 0)
    return int(_module_of(args.command).run(args, console))


def _spoken_of(arguments: Sequence[str]) -> Collection[str]:
    """Commands whose arguments this command line needs: all of them for a completion script."""
    completes = any(word.startswith("--print-completion") for word in arguments)
    return tuple(COMMANDS) if completes else COMMANDS.keys() & set(arguments)


def _module_of(command: str) -> ModuleType:
    return import_module(f"mixer.cli.{FOLDERS.get(command, '')}{command}")
