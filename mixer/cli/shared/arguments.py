"""Arguments that several commands share, worded once."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from mixer.errors import OptionError
from mixer.profile.profile import Profile, load_profile
from mixer.profile.read.fitting import Fitting, fitting_of
from mixer.profile.without import unknown

ALL = "all"
"""Every combination that the profile allows, for the command that takes it."""
WRITTEN = ("output", "plot", "examples")
"""Arguments that name what a command writes; every other path is something it reads."""

FILES = {"bash": "_shtab_compgen_files", "zsh": "_files"}
"""How a shell completes the name of a file."""


def add_path(parser: argparse._ActionsContainer, *names: str, **how: Any) -> None:  # noqa: ANN401  as argparse has it
    """An argument that names a file or a folder, which a shell completes."""
    action = parser.add_argument(*names, type=Path, **how)
    action.complete = FILES  # type: ignore[attr-defined]


def add_profile(parser: argparse.ArgumentParser, name: str = "profile") -> None:
    """The profile every command takes first."""
    add_path(parser, name, help="the robot's profile (TOML)")


def add_log(parser: argparse.ArgumentParser) -> None:
    """A recorded drive, and how its columns are to be read."""
    add_path(parser, "log", help="recorded inputs (CSV with a header)")
    add_mapping(parser)


def add_mapping(parser: argparse.ArgumentParser) -> None:
    """For logs of other origin."""
    parser.add_argument(
        "--map",
        action="append",
        default=[],
        metavar="NAME=COLUMN[:UNIT]",
        help="read NAME from another column; UNIT is us, percent, unit (±1), zero_one or a range such as "
        "-90..90, of t_ms s, ms, us, ns or iso; NAME==1500 is a constant; repeatable",
    )


def add_output(
    parser: argparse.ArgumentParser, metavar: str, help_text: str, *, required: bool = False
) -> None:
    """Where the result goes, and whether it may replace what the command did not make."""
    add_path(parser, "-o", "--output", metavar=metavar, help=help_text, required=required)
    add_overwrite(parser)


def add_overwrite(parser: argparse.ArgumentParser) -> None:
    """The word without which nothing foreign is written over."""
    parser.add_argument(
        "--overwrite", action="store_true", help="write over a file that this command did not make"
    )


def inputs_of(args: argparse.Namespace) -> list[Path]:
    """Every file the command line names for reading: never written over."""
    return [path for name, path in vars(args).items() if isinstance(path, Path) and name not in WRITTEN]


class _Fit(argparse.Action):
    """Puts loadout, operator and receiver together in the one text that names them, under `loadout`."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        del parser, option_string
        name, part = str(values), str(self.const)
        present = getattr(namespace, self.dest)
        if (part == "loadout" and name == ALL and present) or present == ALL:
            raise OptionError(
                "every combination has every driver and receiver", "leave the other options, or `all`, out"
            )
        if part == "loadout" and name == ALL:
            setattr(namespace, self.dest, ALL)
            return
        before = fitting_of(present)
        given = fitting_of(name) if part == "loadout" else before._replace(**{part: name})
        if part == "loadout":
            given = Fitting(*(new or old for new, old in zip(given, before, strict=True)))
        setattr(namespace, self.dest, given.name)


class Every(_Fit):
    """An option that is `--loadout all` in a word."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Takes no value."""
        del values
        super().__call__(parser, namespace, ALL, option_string)


def require_robot(found: str, names: Sequence[str], given: str, what: str) -> None:
    """Raise OptionError where a saved result, which was `given` so, is not of the robot of these names."""
    if found not in names:
        raise OptionError(f"{given}: of {found!r}, not of {names[0]!r}", f"give {what} of this robot")


def add_loadout(parser: argparse.ArgumentParser, side: str = "", *, every: str = "") -> None:
    """What is fitted: hardware, whoever drives, the receiver. `side` stands behind each option's name.

    `every` is said of ``--loadout all`` where a command knows it.
    """
    for option, part, words in (
        ("loadout", "loadout", f"a [loadout.NAME] of the profile{every}; default: the base robot"),
        (
            "driver",
            "operator",
            "who drives: an [operator.NAME] of the profile, with any loadout",
        ),
        ("receiver", "receiver", "the spare receiver of a [receiver.NAME]; default: the built-in one"),
    ):
        parser.add_argument(
            f"--{option}{side}",
            action=_Fit,
            const=part,
            dest=f"loadout{side.replace('-', '_')}",
            metavar="NAME",
            default=None,
            help=words,
        )


def add_without(parser: argparse.ArgumentParser) -> None:
    """What is taken as dead; `profile_of` applies it."""
    parser.add_argument(
        "--without",
        action="append",
        default=[],
        metavar="OUTPUT[:MOTOR]",
        help="take this output, or one of its motors (from 1), as dead; its wheels stay on the floor",
    )


def profile_of(args: argparse.Namespace) -> Profile:
    """The profile a command is about, with what `--without` names dead.

    Raises OptionError for what the loadout that is asked for has not got anyway.
    """
    profile, dead = load_profile(args.profile), getattr(args, "without", ())
    if dead and args.loadout != ALL and (wrong := unknown([profile.robot(args.loadout)], dead)):
        raise wrong
    return profile.without(dead)


def add_engine(parser: argparse.ArgumentParser, more: str = "") -> None:
    """Which form of the core runs; all give the same bits. `more` is said where there is another."""
    parser.add_argument(
        "--engine",
        default=None,
        metavar="NAME",
        help="direct (the reference), python (generated) or native (needs a C compiler): same bits; "
        f"default: native where there is a compiler, else python{more}",
    )
