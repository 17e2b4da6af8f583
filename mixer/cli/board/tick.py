"""`stickwright tick`: at most how long a tick of a compiled program takes, and how deep its stack goes."""

import argparse
import re
from dataclasses import asdict
from pathlib import Path

from mixer.board.image.bound import MIX_TICK, Interrupt, interrupt_of
from mixer.board.image.elf import Image, read_image
from mixer.board.image.rounds import RoundTime
from mixer.board.image.ticktime import TickTime, tick_time
from mixer.board.project.timing import program_time
from mixer.cli.shared.arguments import add_loadout, add_path, add_profile, profile_of
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError
from mixer.lower.graph.ranges import checked_ranges

_MOST_MHZ = 1000
_INTERRUPT = re.compile(r"(\w+)@(\d+(?:\.\d+)?)")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, the program, and what may come in between."""
    add_profile(parser)
    add_path(parser, "elf", help="the program as the linker wrote it (ELF)")
    add_loadout(parser)
    parser.add_argument("--routine", default=MIX_TICK, metavar="NAME", help=f"default: {MIX_TICK}")
    parser.add_argument(
        "--mhz", type=float, metavar="N", help="clock; default: 16 on an ATmega328P, 128 on an RP2040"
    )
    parser.add_argument(
        "--interrupt",
        action="append",
        default=[],
        metavar="WHAT@PER_SECOND",
        help="WHAT is a handler's name, bounded as well, or its cycles; PER_SECOND is 1 over the least "
        "time between two (several at once: their cycles together); repeatable",
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Print the bound and what it rests on; exit 1 where it does not fit into the tick."""
    profile = profile_of(args)
    plan = profile.plan(args.loadout)
    checked_ranges(plan, profile.where)
    image = read_image(args.elf)
    if args.interrupt or args.mhz is not None or args.routine != MIX_TICK:
        found = tick_time(
            image,
            profile.fingerprint(args.loadout),
            plan.tick_ms,
            routine=args.routine,
            hz=_hz(args.mhz),
            interrupts=[_interrupt(image, words) for words in args.interrupt],
        )
    else:
        with console.progress("following every path", 1.0):
            found = program_time(profile, args.loadout, image)
    first, *others = found.lines()
    console.say(f"{args.elf} ({found.worst.processor.name}): {first}.")
    for line in others:
        console.say(f"{line[0].upper()}{line[1:]}.")
    console.say("It rests on:")
    for line in found.rests_on():
        console.say(f"  {line}")
    console.document(_document(args.elf, found))
    return Exit.FINE if found.fits else Exit.FAILED


def _document(elf: Path, found: TickTime) -> dict[str, object]:
    return {
        "elf": str(elf),
        "sha256": found.sha256,
        "fingerprint": found.fingerprint,
        "routine": found.worst.routine,
        "processor": found.worst.processor.name,
        "hz": found.hz,
        "cycles": found.worst.cycles,
        "cycles_with_interrupts": found.cycles,
        "ms": found.ms,
        "tick_ms": found.tick_ms,
        "fits": found.fits,
        "stack_bytes": found.stack,
        "loops": [asdict(loop) for loop in found.worst.loops],
        "interrupts": [asdict(interrupt) for interrupt in found.interrupts],
        "round": None if found.round is None else _round(found.round),
        "rests_on": list(found.rests_on()),
    }


def _round(found: RoundTime) -> dict[str, object]:
    return {
        "cycles": found.whole.cycles,
        "cycles_with_interrupts": found.cycles,
        "tick_cycles": found.tick_cycles,
        "outputs_after_cycles": found.outputs_after,
        "over_after_cycles": found.over_after,
        "fits": found.fits,
        "stack_bytes": found.stack,
        "loops": [asdict(loop) for loop in found.whole.loops],
        "interrupts": [asdict(interrupt) for interrupt in found.interrupts],
    }


def _hz(mhz: float | None) -> float | None:
    if mhz is None:
        return None
    if not 0 < mhz <= _MOST_MHZ:
        raise OptionError(f"--mhz {mhz:g} is no clock of a board", "give MHz, as 8 or 16")
    return mhz * 1e6


def _interrupt(image: Image, words: str) -> Interrupt:
    found = _INTERRUPT.fullmatch(words)
    if found is None or not float(found[2]):
        raise OptionError(
            f"--interrupt {words!r} is not WHAT@PER_SECOND", "as 60@500, or with a handler: __vector_3@500"
        )
    what, per_second = found[1], float(found[2])
    if what.isdecimal():
        return Interrupt(f"{int(what):,} cycles", int(what), 0, per_second)
    return interrupt_of(image, what, per_second)
