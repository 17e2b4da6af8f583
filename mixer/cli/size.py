"""`stickwright size`: will it last the match? Speeds, push, currents, charge, heat and lift on one page."""

import argparse
from pathlib import Path

from mixer.cli.shared.arguments import add_loadout, add_mapping, add_profile, add_without, profile_of
from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.playing import drive_log
from mixer.errors import OptionError, offer
from mixer.live.robot.robot import Build, build_of
from mixer.plant.from_profile import prepare
from mixer.profile.profile import Profile
from mixer.profile.schema.root import Robot
from mixer.sizing.comparing import FigureChange, changes
from mixer.sizing.finding import Finding, Verdict
from mixer.sizing.match import Cycle
from mixer.sizing.report import SizeReport, size

SIGNS = {Verdict.FINE: "fine", Verdict.TIGHT: "TIGHT", Verdict.OVER: "OVER", Verdict.TOLD: ""}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The robot, the drive it is judged by, and another motor to try."""
    add_profile(parser)
    add_loadout(parser)
    add_without(parser)
    parser.add_argument(
        "--log",
        type=Path,
        metavar="LOG",
        help="judge by this recorded drive, repeated until the match is over",
    )
    add_mapping(parser)
    parser.add_argument(
        "--instead-of",
        nargs=2,
        metavar=("MOTOR", "OTHER"),
        help="compare: fit [motor.OTHER] of the profile wherever [motor.MOTOR] is",
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Print the page, or two motors side by side; exit 1 where a limit is exceeded."""
    profile = profile_of(args)
    build = build_of(profile, args.loadout)
    drive = _recorded(args, profile) if args.log else None
    report = _sized(args, build, drive, console)
    if args.instead_of:
        other = _with_other_motor(build.robot, *args.instead_of)
        fitted = _sized(args, build._replace(robot=other, prepared=prepare(other)), drive, console)
        return _print_changes(args, changes(report, fitted), console)
    _print(args, report, console)
    console.document(report)
    return Exit.FAILED if report.worst is Verdict.OVER else Exit.FINE


def _sized(args: argparse.Namespace, build: Build, drive: Cycle | None, console: Console) -> SizeReport:
    with console.progress("driving the match", 1.0) as meter:
        return size(build, drive=drive, trims=bool(args.without), progress=meter.at)


def _recorded(args: argparse.Namespace, profile: Profile) -> Cycle:
    """The log's drive, with the physics and its end stops in the loop, once through a round."""
    log = drive_log(args, profile, args.loadout)
    chunks = [chunk.inputs for chunk in log.chunks()]
    return lambda trial: (trial.take(rows) for rows in chunks)


def _with_other_motor(robot: Robot, old: str, new: str) -> Robot:
    for name in (old, new):
        if name not in robot.motor:
            said = f"--instead-of: the profile has no [motor.{name}]"
            raise OptionError(said, offer(name, robot.motor, "motors"))
    if all(output.motor != old for output in robot.output.values()):
        raise OptionError(
            f"--instead-of: no output carries the motor {old!r}", "name the motor that is fitted now"
        )
    outputs = {
        name: output.model_copy(update={"motor": new}) if output.motor == old else output
        for name, output in robot.output.items()
    }
    return robot.model_copy(update={"output": outputs})


def _print(args: argparse.Namespace, report: SizeReport, console: Console) -> None:
    console.heading(f"{report.robot}: a match of {report.minutes:g} min")
    if args.without:
        console.say(f"taken as dead: {', '.join(args.without)}; the wheels stay on the floor")
    for section in dict.fromkeys(finding.section for finding in report.findings):
        console.say()
        console.table(
            [section, "value>", "limit>", "verdict", "in words"],
            [_line(finding) for finding in report.findings if finding.section == section],
        )
    if report.assumed:
        console.say()
        console.say("the match as it is taken to be:")
        for words in report.assumed:
            console.say(f"  {words}")
    if report.left_out:
        console.say()
        console.say("left out, or taken at a stand-in:")
        for words in report.left_out:
            console.say(f"  {words}")
    console.say()
    for caution in report.cautions:
        console.say(caution)


def _line(finding: Finding) -> list[str]:
    return [
        finding.label,
        _number(finding.value, finding.unit),
        _number(finding.limit, finding.unit),
        SIGNS[finding.verdict],
        finding.words,
    ]


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.3g} {unit}".strip()


def _print_changes(args: argparse.Namespace, rows: tuple[FigureChange, ...], console: Console) -> Exit:
    old, new = args.instead_of
    console.heading(f"{new} instead of {old}")
    console.table(
        ["", f"{old}>", f"{new}>", "change>"],
        (
            [
                row.label,
                _number(row.before, row.unit),
                _number(row.after, row.unit),
                "" if row.percent is None else f"{row.percent:+.0f} %",
            ]
            for row in rows
        ),
    )
    console.document(
        {
            "instead_of": old,
            "motor": new,
            "changes": [{"key": r.key, "before": r.before, "after": r.after} for r in rows],
        }
    )
    return Exit.FINE
