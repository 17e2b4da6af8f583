"""`stickwright record`: what the receiver really sends, from the board into a log that replays as is."""

import argparse
from functools import partial

from mixer.cli.link.board import add_port, open_board, require_port
from mixer.cli.link.parity import aboard_result, is_wrong, parity_result, show, wires_result
from mixer.cli.link.recording import Recording
from mixer.cli.link.report import show_counts, show_jitter, to_dict
from mixer.cli.link.signals import asked_to_stop
from mixer.cli.shared.arguments import add_loadout, add_output, add_path, inputs_of
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError
from mixer.files import check_place
from mixer.link.recorder import Progress, record, recorder_for
from mixer.link.serial_port import list_ports
from mixer.link.session import MachineClock
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The robot, its board, and where the log goes."""
    add_path(parser, "profile", nargs="?", help="the robot's profile (TOML)")
    add_port(parser)
    add_output(parser, "LOG", "the log to write (CSV)")
    parser.add_argument(
        "--seconds", type=float, metavar="N", help="stop after so long; default: until Ctrl-C"
    )
    add_loadout(parser)
    parser.add_argument("--list", action="store_true", help="show this machine's serial ports, and end")


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Record until told to stop; 1 when the mix or the wires on the board are not the profile's."""
    if args.list:
        return _list(console)
    _require(args)
    tunings = Tunings(load_profile(args.profile), args.loadout)
    plan = tunings.plan
    check_place(args.output, inputs=inputs_of(args), overwrite=args.overwrite)
    watch = BoardWatch(tunings)
    recording, progress = _record(args, tunings, watch, console)
    show_counts(progress, recording.quiet, console)
    console.say()
    if progress.rows:
        show_jitter(plan, recording.quiet, console)
    show(watch, console)
    console.say(f"written: {args.output}" if progress.rows else "nothing came, so no drive is written")
    console.document(
        {
            "log": str(args.output),
            "stopped_by": "request" if recording.was_stopped else "--seconds",
            "board": watch.identity,
            "aboard": aboard_result(watch),
            "wired": wires_result(watch),
            **to_dict(progress, recording.quiet),
            "parity": parity_result(watch),
        }
    )
    return Exit.FAILED if is_wrong(watch) else Exit.FINE


def _record(
    args: argparse.Namespace, tunings: Tunings, watch: BoardWatch, console: Console
) -> tuple[Recording, Progress]:
    """Until Ctrl-C, TERM or --seconds. The file is closed when this returns or raises."""
    plan = tunings.plan
    with open_board(args, tunings, console, watch) as session, asked_to_stop() as stop:
        recorder = recorder_for(args.output, plan, overwrite=args.overwrite)
        names = [channel.name for channel in plan.channels]
        recording = Recording(names, watch, args.seconds, console, MachineClock(), stop)
        if not console.is_live:
            console.notice(f"recording from {args.port} into {args.output}; Ctrl-C stops")
        with console.live() as show:
            progress = record(session, recorder, partial(recording.keep_on, show))
    return recording, progress


def _list(console: Console) -> Exit:
    ports = list_ports()
    if ports:
        console.table(["port", "what it is"], ([port.path, port.name] for port in ports))
    else:
        console.say("no serial port here now: plug the board in, and ask again")
    console.document([{"path": port.path, "name": port.name, "usb": port.is_usb} for port in ports])
    return Exit.FINE


def _require(args: argparse.Namespace) -> None:
    if args.profile is None:
        raise OptionError(
            "which robot? the profile is missing", "stickwright record PROFILE --port PATH -o LOG"
        )
    require_port(args)
    if args.output is None:
        raise OptionError("where to? -o is missing", "name the log to write: -o drive.csv")
    if args.seconds is not None and not args.seconds > 0:
        raise OptionError(f"--seconds {args.seconds:g} is no time to record", "give a number above 0")
