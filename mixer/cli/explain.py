"""`stickwright explain`: why is this motor told this? One line a stage, from pulse to wire."""

import argparse

from mixer.cli.shared.arguments import add_engine, add_loadout, add_profile, add_without, profile_of
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, offer
from mixer.runs.explain.chain import Explanation, explain
from mixer.runs.play.engines import DEFAULT_ENGINE


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The moment, and which outputs are wanted."""
    add_profile(parser)
    parser.add_argument(
        "--at",
        default="",
        metavar="INPUTS",
        help='pulses in µs, switch positions and contacts: "throttle=1620 arm=on tray_left_out=closed"; '
        "what is not named rests, armed",
    )
    parser.add_argument(
        "--output", action="append", default=[], metavar="NAME", help="only this output; repeatable"
    )
    add_loadout(parser)
    add_without(parser)
    add_engine(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Settle at the moment asked for and print each output's chain."""
    plan = profile_of(args).plan(args.loadout)
    explanation = explain(plan, _moment(args.at), args.engine or DEFAULT_ENGINE)
    names = [output.name for output in plan.outputs]
    for name in args.output:
        if name not in names:
            raise OptionError(f"--output {name}: no such output", offer(name, names, "outputs"))
    _print(explanation, args.output or names, console)
    console.document(explanation)
    return Exit.FINE


def _moment(text: str) -> dict[str, int | str]:
    moment: dict[str, int | str] = {}
    for part in text.replace(",", " ").split():
        name, equals, value = part.partition("=")
        if not (name and equals and value):
            raise OptionError(
                f"--at: {part!r} gives no input a value", 'write NAME=VALUE, such as "throttle=1620"'
            )
        if name in moment:
            raise OptionError(f"--at: {name} is given twice", "give each input once")
        moment[name] = int(value) if value.lstrip("-").isdecimal() else value
    return moment


def _print(explanation: Explanation, wanted: list[str], console: Console) -> None:
    console.heading(f"{explanation.robot}: {explanation.guard}")
    for reason in explanation.why_not_live:
        console.say(f"  not live: {reason}")
    for chain in explanation.outputs:
        if chain.name in wanted:
            console.say()
            console.heading(chain.name)
            console.table(
                ["stage", "what happens", "value>"], ([s.stage, s.text, str(s.value)] for s in chain.steps)
            )
