"""`stickwright compare`: one log through two profiles, where they part, and why. Exit 1 when they do."""

import argparse
from collections.abc import Sequence
from typing import TypeAlias

from mixer.cli.shared.arguments import add_engine, add_loadout, add_log, add_profile
from mixer.cli.shared.console import Console, Exit, as_data
from mixer.cli.shared.on_board import BOARD_TOO, account_data, add_board, board_play, tell_account
from mixer.cli.shared.playing import begin, drive_log, robot_for, tell_notices
from mixer.cli.shared.why import print_why
from mixer.live.robot.robot import LiveRobot
from mixer.profile.profile import Profile, load_profile
from mixer.review.why.between import Between
from mixer.review.why.explained import Why, explain_difference
from mixer.review.why.runs import Runs
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.measure.compare import Comparison, OutputDifference, Pair
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.on_board import BoardPlay

Side: TypeAlias = tuple[DriveLog, LiveRobot]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Two profiles (or one in two loadouts) and a log."""
    add_profile(parser, "profile_a")
    add_profile(parser, "profile_b")
    add_log(parser)
    add_loadout(parser, "-a")
    add_loadout(parser, "-b")
    parser.add_argument(
        "--no-why", action="store_true", help="leave out which of the differing keys makes how much of it"
    )
    add_engine(parser, BOARD_TOO)
    add_board(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Replay both side by side."""
    robots = (
        (load_profile(args.profile_a), args.loadout_a),
        (load_profile(args.profile_b), args.loadout_b),
    )
    a, b = (
        (drive_log(args, profile, loadout), robot_for(args, profile, loadout))
        for profile, loadout in robots
    )
    boards = [
        board_play(args, profile, loadout, log, console)
        for (profile, loadout), (log, _) in zip(robots, (a, b), strict=True)
    ]
    comparison = _compared(a, b, boards, console)
    console.heading(
        f"a: {args.profile_a}, {comparison.robot_a}   b: {args.profile_b}, {comparison.robot_b}   "
        f"{comparison.duration_s:.1f} s, {comparison.ticks} ticks"
    )
    _print(comparison, console)
    why = None if comparison.equal or args.no_why else _why(args, robots, (a[1], b[1]), console)
    if why is not None:
        print_why(why, console)
    document = {**as_data(comparison), "why": why}
    code = Exit.FINE if comparison.equal else Exit.FAILED
    for side, board in zip("ab", boards, strict=True):
        if board is not None:
            code = max(code, tell_account(board.account(), board.flashed, console, f"{side} "))
            document[f"on_board_{side}"] = account_data(board.account(), board.flashed)
    console.document(document)
    return code


def _why(
    args: argparse.Namespace,
    robots: Sequence[tuple[Profile, str | None]],
    sides: Sequence[LiveRobot],
    console: Console,
) -> Why | None:
    """The difference shared out, with the physics where both robots have it."""
    physics = all(side.build.prepared.robot is not None for side in sides)
    unused = frozenset[str]().union(*(profile.unused(loadout) for profile, loadout in robots))
    for profile, loadout in robots:
        plan = profile.plan(loadout)
        unused |= {channel.name for channel in plan.channels} | {contact.name for contact in plan.contacts}
    mapping = parse_mapping(args.map)
    runs = Runs(lambda plan: DriveLog(plan, args.log, mapping=mapping, unused=unused), physics=physics)
    tables_a, tables_b = (profile.tables(loadout) for profile, loadout in robots)
    between = Between(tables_a, tables_b, "a robot between the two")
    with console.progress("trying the keys that differ", 1.0) as meter:
        return explain_difference(between, runs, meter.at)


def _compared(a: Side, b: Side, boards: Sequence[BoardPlay | None], console: Console) -> Comparison:
    """Both logs side by side, stretch by stretch, each as its board has read it where one runs."""
    pair = Pair(a[1].plan, b[1].plan)
    chunks = []
    for (log, robot), board in zip((a, b), boards, strict=True):
        begin(log, robot, console, board)
        chunks.append(log.chunks() if board is None else board.chunks(log.chunks()))
        if board is not None:
            robot.add(board)
    with console.progress(f"{pair.names} on {a[0].path.name}", 1.0) as meter:
        for chunk_a, chunk_b in zip(*chunks, strict=True):
            pair.add(a[1].take(chunk_a.inputs), b[1].take(chunk_b.inputs))
            meter.at(a[0].progress)
    tell_notices(a[0], console)
    if b[0].notices != a[0].notices:
        tell_notices(b[0], console)
    return pair.comparison()


def _print(comparison: Comparison, console: Console) -> None:
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
