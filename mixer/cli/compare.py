"""`stickwright compare`: one log through two profiles, and where they part. Exit 1 when they do."""

import argparse
from typing import TypeAlias

from mixer.cli.shared.arguments import add_engine, add_log, add_profile
from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.playing import begin, drive_log, robot_for, tell_notices
from mixer.live.robot.robot import LiveRobot
from mixer.profile.profile import load_profile
from mixer.runs.measure.compare import Comparison, OutputDifference, Pair
from mixer.runs.play.drive_log import DriveLog

Side: TypeAlias = tuple[DriveLog, LiveRobot]


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
        log = drive_log(args, profile, loadout)
        sides.append((log, robot_for(args, profile, loadout)))
    comparison = _compared(sides[0], sides[1], console)
    _print(comparison, console)
    console.document(comparison)
    return Exit.FINE if comparison.equal else Exit.FAILED


def _compared(a: Side, b: Side, console: Console) -> Comparison:
    """Both logs side by side, stretch by stretch."""
    pair = Pair(a[1].plan, b[1].plan)
    for log, robot in (a, b):
        begin(log, robot, console)
    with console.progress(f"{pair.names} on {a[0].path.name}", 1.0) as meter:
        for chunk_a, chunk_b in zip(a[0].chunks(), b[0].chunks(), strict=True):
            pair.add(a[1].take(chunk_a.inputs), b[1].take(chunk_b.inputs))
            meter.at(a[0].progress)
    tell_notices(a[0], console)
    if b[0].notices != a[0].notices:
        tell_notices(b[0], console)
    return pair.comparison()


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
