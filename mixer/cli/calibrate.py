"""`stickwright calibrate`: endpoints, centre and deadband from a log of sweeps and rest, as TOML."""

import argparse

from mixer.cli.arguments import add_log
from mixer.cli.console import Console, Exit
from mixer.runs.calibrate import calibrate, toml_lines
from mixer.runs.log_columns_free import channels_in
from mixer.runs.log_read import LogReader
from mixer.runs.mapping import parse_mapping


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """A log suffices: its columns are the channels."""
    add_log(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Read the whole recording, then propose."""
    mapping = parse_mapping(args.map)
    wanted = channels_in(args.log, mapping)
    log = LogReader(args.log, wanted, mapping)
    with console.progress(f"reading {args.log.name}", 1.0):
        calibration = calibrate(wanted.channels, log.rows())
    for notice in log.notices:
        console.notice(str(notice))
    console.table(
        ["channel", "looks like", "pulses>", "low>", "centre>", "high>", "noise>", "deadband>", "note"],
        (
            [
                channel.name,
                channel.kind.value,
                str(channel.pulses),
                f"{channel.low_us} µs",
                "-" if channel.centre_us is None else f"{channel.centre_us} µs",
                f"{channel.high_us} µs",
                f"±{channel.rest_noise_us} µs",
                f"{channel.deadband:.3f}",
                "; ".join(channel.notes),
            ]
            for channel in calibration.channels
        ),
    )
    console.say()
    console.say("to paste into the profile:")
    for line in toml_lines(calibration):
        console.say(line)
    console.document(calibration.to_dict())
    return Exit.FINE
