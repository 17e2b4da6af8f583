"""`stickwright calibrate`: endpoints, centre and deadband from a log of sweeps and rest, as TOML."""

import argparse
from pathlib import Path

from mixer.cli.shared.arguments import add_loadout, add_mapping, add_path
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError
from mixer.live.robot.robot import build_of, with_physics
from mixer.profile.profile import load_profile
from mixer.runs.log.calibrate import ChannelCalibration, calibrate, toml_lines
from mixer.runs.log.columns_free import channels_in
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.log.read import LogReader
from mixer.sizing.drift import side_gains


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """A log suffices: its columns are the channels. A drift run needs the profile instead."""
    add_path(parser, "log", nargs="?", help="sweeps and rest (CSV with a header)")
    add_mapping(parser)
    parser.add_argument(
        "--drift",
        nargs=2,
        type=float,
        metavar=("LENGTH_M", "SIDEWAYS_M"),
        help="instead of a log: told to go straight, it went so far ahead and so far to the left "
        "(negative: right); proposes gains for the two sides",
    )
    parser.add_argument("--profile", type=Path, help="with --drift: the robot that drifted")
    add_loadout(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Read the whole recording, or the drift run, then propose."""
    if args.drift is not None:
        return _drift(args, console)
    if args.log is None:
        raise OptionError("there is nothing to calibrate from", "give a log, or --drift with --profile")
    mapping = parse_mapping(args.map)
    wanted = channels_in(args.log, mapping)
    log = LogReader(args.log, wanted, mapping)
    with console.progress(f"reading {args.log.name}", 1.0):
        calibration = calibrate(wanted.channels, log.rows())
    console.notices(log.notices)
    console.table(
        ["channel", "looks like", "pulses>", "low>", "centre>", "high>", "noise>", "deadband>"],
        map(_line, calibration.channels),
    )
    console.say()
    console.say("to paste into the profile:")
    for line in toml_lines(calibration):
        console.say(line)
    console.document(calibration)
    return Exit.FINE


def _line(channel: ChannelCalibration) -> list[str]:
    return [
        channel.name,
        channel.kind.value,
        str(channel.pulses),
        f"{channel.low_us} µs",
        "-" if channel.centre_us is None else f"{channel.centre_us} µs",
        f"{channel.high_us} µs",
        f"±{channel.rest_noise_us} µs",
        f"{channel.deadband:.3f}",
    ]


def _drift(args: argparse.Namespace, console: Console) -> Exit:
    if args.profile is None:
        raise OptionError("--drift needs the robot", "add --profile PROFILE")
    build = with_physics(build_of(load_profile(args.profile), args.loadout))
    with console.progress("driving straight ahead", 1.0):
        found = side_gains(build, *args.drift)
    if found.stronger is None:
        console.say("it ran straight: nothing to change")
    else:
        console.say(
            f"the {found.stronger} side is the stronger: it gets {found.factor:.4f} of its gain; "
            f"{abs(found.after_m) * 1000:.0f} of {abs(found.before_m) * 1000:.0f} mm stay in a run of it"
        )
        for name, gain in found.gains.items():
            console.say()
            console.say(f"[output.{name}]")
            console.say(f"gain = {gain:.4f}")
        console.say()
        console.say("then drive it again: one run cannot tell whether a side is slow or only slow to start")
    console.document(found)
    return Exit.FINE
