"""`stickwright feel`: what to turn for what a driver feels, a first step from the profile's values."""

import argparse
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from mixer.cli.shared.arguments import add_loadout, add_profile
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError
from mixer.files import check_place, write_file
from mixer.profile.edit.differences import Change
from mixer.profile.feel.advice import Advice, advice
from mixer.profile.feel.feelings import FEELINGS, Feeling, find_feelings
from mixer.profile.feel.steps import with_moves
from mixer.profile.profile import Profile, load_profile

NOTHING = "nothing to turn: this robot has no key for it, or all are at their ends"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile and what is said of the robot."""
    add_profile(parser)
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="what is felt, such as twitchy; default: all"
    )
    add_loadout(parser)
    parser.add_argument(
        "-o", "--output", type=Path, help="write the profile with the first step taken here"
    )
    parser.add_argument("--overwrite", action="store_true", help="with -o: replace whatever stands there")


def run(args: argparse.Namespace, console: Console) -> Exit:
    """List all feelings with their first steps, or explain those that are meant."""
    profile = load_profile(args.profile)
    found = find_feelings(" ".join(args.words)) if args.words else FEELINGS
    told = [(feeling, advice(profile, args.loadout, feeling)) for feeling in found]
    if args.output is not None:
        return _write(args, profile, told, console)
    if args.words:
        _explain(told, console)
    else:
        console.table(("what you feel", "first step", "what shows it"), [_line(*each) for each in told])
    console.document([_as_data(*each) for each in told])
    return Exit.FINE


def _write(
    args: argparse.Namespace,
    profile: Profile,
    told: Sequence[tuple[Feeling, Sequence[Advice]]],
    console: Console,
) -> Exit:
    if len(told) != 1 or not told[0][1]:
        said = f"{len(told)} feelings are meant" if len(told) != 1 else NOTHING
        raise OptionError(said, "name one that has a first step: `stickwright feel PROFILE` lists them")
    (feeling, steps), path = told[0], args.output
    check_place(path, inputs=[args.profile], overwrite=args.overwrite)
    write_file(path, with_moves(profile, args.loadout, steps[0].moves))
    console.say(f"{path} written: {feeling.words}. Next: stickwright compare {args.profile} {path} LOG")
    console.document({"profile": str(path), **_as_data(feeling, steps)})
    return Exit.FINE


def _explain(told: Sequence[tuple[Feeling, Sequence[Advice]]], console: Console) -> None:
    for number, (feeling, steps) in enumerate(told):
        if number:
            console.say()
        console.heading(feeling.words)
        for place, step in enumerate(steps):
            console.say(f"    {'first step' if place == 0 else 'or'}: {step.why}")
            for move in step.moves:
                console.say(f"        {move}")
            console.say(f"        source: {step.source}")
        if not steps:
            console.say(f"    {NOTHING}")
        console.say(f"    what shows it: {feeling.figure}")


def _line(feeling: Feeling, steps: Sequence[Advice]) -> list[str]:
    return [feeling.words, _short(steps[0].moves) if steps else "nothing to turn here", feeling.figure]


def _short(moves: Sequence[Change]) -> str:
    more = f" and {len(moves) - 1} more" if len(moves) > 1 else ""
    return f"{moves[0]}{more}"


def _as_data(feeling: Feeling, steps: Sequence[Advice]) -> dict[str, object]:
    return {
        "words": feeling.words,
        "figure": feeling.figure,
        "steps": [
            {"why": step.why, "source": step.source, "moves": [asdict(move) for move in step.moves]}
            for step in steps
        ],
    }
