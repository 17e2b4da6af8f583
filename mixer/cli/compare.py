"""`stickwright compare`: one log through two profiles, and where they part. Exit 1 when they do."""

import argparse

from mixer.cli.arguments import add_engine, add_log, add_profile
from mixer.cli.console import Console, Exit
from mixer.cli.playing import log_replay, play
from mixer.profile import load_profile
from mixer.runs.measure.compare import Comparison, OutputDifference, compare


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Two profiles (or one in two loadouts) and a log."""
    add_profile(parser, "profile_a")
    add_profile(parser, "profile_b")
    add_log(parser)
    parser.add_argument("--loadout-a", metavar="NAME", help="loadout of the first profile")
    parser.add_argument("--loadout-b", metavar="NAME", help="loadout of the second profile")
    add_engine(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Replay both side by side."""
    sides = []
    for path, loadout in ((args.profile_a, args.loadout_a), (args.profile_b, args.loadout_b)):
        profile = load_profile(path)
        plan = profile.plan(loadout)
        log = log_replay(args, profile, loadout)
        sides.append((plan, play(log, console, f"{plan.name} on {args.log.name}")))
    (plan_a, plays_a), (plan_b, plays_b) = sides
    comparison = compare(plan_a, plays_a, plan_b, plays_b)
    _print(comparison, console)
    console.document(comparison.to_dict())
    return Exit.FINE if comparison.equal else Exit.FAILED


def _print(comparison: Comparison, console: Console) -> None:
    seconds = comparison.duration_s
    console.heading(
        f"a: {comparison.robot_a}   b: {comparison.robot_b}   {seconds:.1f} s, {comparison.ticks} ticks"
    )
    if comparison.equal:
        console.say("no difference: every output was told the same at every tick")
        return
    guard = comparison.guard
    if guard.first_s is None:
        console.say("the guards agree throughout")
    else:
        console.say(
            f"the guards part at {guard.first_s:.3f} s and differ for {guard.apart_s:.2f} s "
            f"(live only in a {guard.live_only_a_s:.2f} s, only in b {guard.live_only_b_s:.2f} s)"
        )
    console.table(
        ["output", "largest difference>", "mean>", "on the wire>", "first at>", "differs for>"],
        [_line(output) for output in comparison.outputs],
    )
    for side, names in (("a", comparison.only_a), ("b", comparison.only_b)):
        if names:
            console.say(f"only in {side}: {', '.join(names)}")


def _line(output: OutputDifference) -> list[str]:
    command = output.command
    return [
        output.name,
        f"{command.largest:.1%}",
        f"{command.mean:.2%}",
        "not comparable" if output.wire is None else f"{output.wire.largest:.0f}",
        "-" if command.first_s is None else f"{command.first_s:.3f} s",
        f"{command.apart_s:.2f} s",
    ]
