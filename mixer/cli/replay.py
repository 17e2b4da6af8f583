"""`stickwright replay`: a recorded drive through the mix, and what every output was told."""

import argparse
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from mixer.cli.shared.arguments import (
    add_engine,
    add_loadout,
    add_log,
    add_output,
    add_profile,
    add_without,
    inputs_of,
    profile_of,
)
from mixer.cli.shared.console import Console, Exit, as_data
from mixer.cli.shared.on_board import (
    BOARD,
    BOARD_TOO,
    account_data,
    add_board,
    asks_board,
    board_drive,
    tell_account,
)
from mixer.cli.shared.physics import print_physics
from mixer.cli.shared.playing import drive_log, engine_of, play, robot_for
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.files import check_place, write_file, written_text
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.robot import LiveRobot
from mixer.runs.log.mapping import TIME
from mixer.runs.measure.channels import ChannelMeasure
from mixer.runs.measure.measures import Measures, Summary
from mixer.runs.measure.outputs import ActuatorMeasure, OutputMeasure
from mixer.runs.measure.per_tick import PerTickWriter, chosen_signals
from mixer.runs.measure.physics import PhysicsMeasures, PhysicsSummary, plant_columns
from mixer.runs.measure.plot import CREATOR, Sampled, check_drawing, drawing

LATEST_S = 86400.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Profile, log, and where the ticks go."""
    add_profile(parser)
    add_log(parser)
    add_loadout(parser)
    add_without(parser)
    add_engine(parser, BOARD_TOO)
    add_board(parser)
    add_output(parser, "CSV", "also write one line a tick")
    parser.add_argument(
        "--signals",
        nargs="+",
        default=[],
        metavar="PATTERN",
        help="which signals -o writes, * and ? allowed; default: every wire and the guard",
    )
    parser.add_argument(
        "--physics", action="store_true", help="with battery, motors, floor and end stops in the loop"
    )
    parser.add_argument("--plot", type=Path, metavar="SVG", help="draw the drive with its physics")
    parser.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="KEY[@SECONDS]",
        help="break this, as `failsafe --each` calls it, so long after the log's beginning; repeatable",
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Replay, then print the summary."""
    profile = profile_of(args)
    plan = profile.plan(args.loadout)
    log = drive_log(args, profile, args.loadout)
    _check_places(args, plan)
    robot = robot_for(args, profile, args.loadout, physics=bool(args.physics or args.plot))
    broken = _break(args, robot)
    board = board_drive(args, profile, robot, log, console)
    measures = Measures(plan)
    robot.add(measures)
    drive = _Drive(robot, draws=bool(args.plot)) if args.physics or args.plot else None
    with written_text(args.output) if args.output else nullcontext() as file:
        if file is not None:
            columns = () if drive is None else drive.columns
            robot.add(PerTickWriter(file, plan, chosen_signals(plan, args.signals), columns))
        play(log, robot, console, f"{'driving' if drive else 'replaying'} {args.log.name}", board)
    _print(measures.summary(), broken, console)
    document: dict[str, Any] = {
        "log": str(args.log), "fingerprint": profile.fingerprint(args.loadout), "engine": engine_of(robot),
    }  # fmt: skip
    if drive is not None:
        document["physics"] = drive.tell(args, console)
    if args.output:
        console.say(f"every tick: {args.output}")
    code = Exit.FINE
    if board is not None:
        console.say()
        code = tell_account(board.account(), board.flashed, console)
        document |= {"engine": BOARD, "on_board": account_data(board.account(), board.flashed)}
    console.document(as_data(measures.summary()) | document)
    return code


def _break(args: argparse.Namespace, robot: LiveRobot) -> list[str]:
    """Put the faults of the command line in; in words. Raises OptionError for one there is none of."""
    if not args.fault:
        return []
    robot.faults = board = FaultBoard(robot.plan, robot.build.robot.receiver.frame_ms)
    board.put_on_chip(asks_board(args))
    said = []
    for given in args.fault:
        key, _, when = given.partition("@")
        try:
            seconds = float(when or 0)
        except ValueError:
            seconds = -1.0
        if not 0 <= seconds <= LATEST_S:
            raise OptionError(f"--fault {given}: {when!r} is no time", "give seconds, such as all-lost@2.5")
        board.inject(key, round(seconds * 1000 / robot.plan.tick_ms))
        said.append(f"broken from {seconds:g} s on: {board.words(key)}")
    return said


class _Drive:
    """What is kept of a robot with physics."""

    def __init__(self, live: LiveRobot, *, draws: bool) -> None:
        robot = live.build.prepared.robot
        assert robot is not None
        self.columns = plant_columns(robot)
        self.measures = PhysicsMeasures(robot, live.plan.tick_ms)
        self.sampled = Sampled(live.plan, robot) if draws else None
        self._plan = live.plan
        live.add(self.measures)
        if self.sampled is not None:
            live.add(self.sampled)

    def tell(self, args: argparse.Namespace, console: Console) -> PhysicsSummary:
        """Print it, and draw it where that is asked for."""
        console.say()
        summary = self.measures.summary()
        print_physics(summary, console)
        if self.sampled is not None:
            write_file(args.plot, drawing(self.sampled, f"{self._plan.name}: {args.log.name}"))
            console.say(f"drawn: {args.plot}")
        return summary


def _check_places(args: argparse.Namespace, plan: Plan) -> None:
    """Raises WriteError or OptionError before a long drive rather than after it."""
    inputs = inputs_of(args)
    if args.output:
        tables = [f"{TIME},{name}" for name in layout_of(plan).signals]
        check_place(args.output, inputs=inputs, marks=tables, overwrite=args.overwrite)
    if args.plot:
        check_drawing(args.plot)
        others = [*inputs, args.output] if args.output else inputs
        check_place(args.plot, inputs=others, marks=[CREATOR], overwrite=args.overwrite)


def _print(summary: Summary, broken: Sequence[str], console: Console) -> None:
    console.heading(
        f"{summary.robot}: {summary.duration_s:.1f} s, {summary.ticks} ticks of {summary.tick_ms} ms"
    )
    for words in broken:
        console.say(words)
    _print_guard(summary, console)
    console.say()
    console.table(
        ["channel", "pulses>", "bad>", "missing>", "frame>", "longest gap>", "lost>"],
        map(_channel_line, summary.channels),
    )
    console.say()
    console.table(
        ["output", "peak>", "mean>", "mean size>", "saturated>", "at limit>", "slewing>", "reversal rest>"],
        map(_output_line, summary.outputs),
    )
    if summary.actuators:
        console.say()
        console.table(
            ["actuator", "vetoes>", "vetoed>", "may not extend>", "may not retract>", "both stops closed>"],
            map(_actuator_line, summary.actuators),
        )


def _channel_line(channel: ChannelMeasure) -> list[str]:
    return [
        channel.name,
        str(channel.pulses),
        str(channel.bad_pulses),
        str(channel.missing_pulses),
        "-" if channel.frame_ms is None else f"{channel.frame_ms:.0f} ms",
        f"{channel.longest_gap_ms:.0f} ms",
        f"{channel.lost_s:.2f} s",
    ]


def _output_line(output: OutputMeasure) -> list[str]:
    shares = [f"{output.peak:.1%}", f"{output.mean:+.1%}", f"{output.mean_magnitude:.1%}"]
    times = (output.saturated_s, output.at_limit_s, output.slew_limited_s, output.reversal_rest_s)
    return [output.name, *shares, *(f"{seconds:.2f} s" for seconds in times)]


def _actuator_line(actuator: ActuatorMeasure) -> list[str]:
    times = (actuator.vetoed_s, actuator.out_blocked_s, actuator.in_blocked_s, actuator.fault_s)
    return [actuator.name, str(actuator.vetoes), *(f"{seconds:.2f} s" for seconds in times)]


def _print_guard(summary: Summary, console: Console) -> None:
    guard = summary.guard
    times = ", ".join(f"{name} {seconds:.2f} s" for name, seconds in guard.seconds.items() if seconds)
    console.say(f"guard: {times}")
    for turn in guard.transitions:
        console.say(f"  {turn.at_s:9.3f} s  {turn.before} -> {turn.after}")
    if guard.transitions_total > len(guard.transitions):
        console.say(f"  ... and {guard.transitions_total - len(guard.transitions)} more")
    if not guard.losses:
        console.say("no loss of signal")
    for loss in guard.losses:
        end = "" if loss.ended else " (to the end of the log)"
        channels = ", ".join(loss.channels)
        console.say(f"  loss at {loss.at_s:.3f} s for {loss.lasted_s:.3f} s{end}: {channels}")
    if guard.losses_total > len(guard.losses):
        console.say(f"  ... and {guard.losses_total - len(guard.losses)} more losses")
