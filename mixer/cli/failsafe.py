"""`stickwright failsafe`: every fault simulated, the rules proven, and what the firmware cannot see."""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from mixer.cli.board import at_pins
from mixer.cli.shared.arguments import (
    ALL,
    Every,
    add_loadout,
    add_overwrite,
    add_profile,
    add_without,
    profile_of,
)
from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.on_board import BOARD, add_board, asks_board
from mixer.core.plan import Plan
from mixer.errors import OptionError, WriteError
from mixer.failsafe.campaign.families import Family, families_of
from mixer.failsafe.campaign.lanes import ENGINES
from mixer.failsafe.campaign.results import CampaignResult, FaultVerdict
from mixer.failsafe.campaign.run import DEFAULT_SCENARIOS, DEFAULT_SEED
from mixer.failsafe.pins.report import DEFAULT_SCENARIOS as DEFAULT_ON_BOARD
from mixer.failsafe.report.account import CAUTIONS, CLAIM, FailsafeReport, Options, report_of
from mixer.failsafe.report.examples import examples_of
from mixer.faults.both import PAIR
from mixer.files import check_folder, write_folder
from mixer.profile.profile import Profile
from mixer.profile.read.fitting import fitting_of

MOST_SCENARIOS = 2_000_000
DRIVES_M = 0.05
"""A controller stuck on that moves the robot less far than this moves something else."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, and how much to run."""
    add_profile(parser)
    add_loadout(parser, every=", or all")
    words = "every combination of loadout, driver and receiver that the profile allows"
    parser.add_argument("--all", action=Every, nargs=0, const="loadout", dest="loadout", help=words)
    add_without(parser)
    parser.add_argument(
        "--seed", type=int, default=DEFAULT_SEED, metavar="N", help="same seed, same scenarios, same table"
    )
    parser.add_argument(
        "--scenarios",
        type=int,
        metavar="N",
        help=f"at least so many; default {DEFAULT_SCENARIOS}, or {DEFAULT_ON_BOARD} on a board",
    )
    _add_engine(parser)
    parser.add_argument("--no-proof", action="store_true", help="simulate only; the proof needs z3-solver")
    parser.add_argument("--each", action="store_true", help="one line for each fault instead of each kind")
    parser.add_argument(
        "--examples",
        type=Path,
        metavar="DIR",
        help="write each rule's run, broken or witness, as logs",
    )
    add_overwrite(parser)


def _add_engine(parser: argparse.ArgumentParser) -> None:
    """What runs the firmware, and what that alone can do."""
    words = "native needs a C compiler, same bits; board: faults as edges on the pins of a board's image"
    parser.add_argument("--engine", choices=(*ENGINES, BOARD), default=ENGINES[0], help=words)
    add_board(parser)
    words = "with --engine board: flip a bit of every slot in RAM as well"
    parser.add_argument("--bits", action="store_true", help=words)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Run and print one report a loadout; 1 when anything is broken, not settled, or green for nothing."""
    options = _options(args)
    profile = profile_of(args)
    if asks_board(args):
        return at_pins.run(args, profile, _loadouts(args.loadout, profile), console)
    reports, examples = [], dict[str, str]()
    if args.examples:
        _check_examples(args)
    for loadout in _loadouts(args.loadout, profile):
        with console.progress(f"faults for {profile.plan(loadout).name}", 1.0) as meter:
            report = report_of(profile, loadout, options, meter.at)
        reports.append(report)
        _print(report, console, each=args.each)
        if args.examples:
            examples |= examples_of(profile, report, options)
    if examples:
        write_folder(args.examples, examples)
        for name in examples:
            console.say(f"written: {args.examples / name}")
    failing = [report for report in reports if report.against]
    for report in failing:
        console.say(f"does not hold for {_title(report)}: {'; '.join(report.against)}")
    console.say(CLAIM)
    console.say(CAUTIONS)
    console.document({"reports": reports})
    return Exit.FAILED if failing else Exit.FINE


def _options(args: argparse.Namespace) -> Options:
    scenarios = DEFAULT_SCENARIOS if args.scenarios is None else args.scenarios
    if not 1 <= scenarios <= MOST_SCENARIOS:
        raise OptionError(f"--scenarios {scenarios}", f"give 1 to {MOST_SCENARIOS}")
    if args.bits and args.engine != BOARD:
        raise OptionError("--bits flips bits in a chip's RAM", f"add --engine {BOARD}")
    return Options(scenarios, args.seed, args.engine, not args.no_proof)


def _check_examples(args: argparse.Namespace) -> None:
    """Before a long campaign rather than after it. Raises WriteError."""
    check_folder(args.examples)
    if args.examples.exists() and any(args.examples.iterdir()) and not args.overwrite:
        said = f"{args.examples} holds files already"
        raise WriteError(said, "name an empty folder or a new one, or add --overwrite")


def _loadouts(wanted: str | None, profile: Profile) -> Sequence[str | None]:
    if wanted == ALL:
        return apart(profile)
    profile.plan(wanted)  # raises for a loadout there is none of, before anything runs
    return (wanted,)


def apart(profile: Profile) -> tuple[str | None, ...]:
    """The combinations a profile allows, of equal ones the first. Raises ProfileError."""
    seen: dict[tuple[Plan, str], str | None] = {}
    for name in profile.fittings:
        described = profile.robot(name).model_dump_json()
        seen.setdefault((replace(profile.plan(name), name=""), described), name)
    return tuple(seen.values())


def _title(report: FailsafeReport) -> str:
    return ", ".join(part for part in (report.robot, fitting_of(report.loadout).words) if part)


def _print(report: FailsafeReport, console: Console, *, each: bool) -> None:
    console.heading(f"{_title(report)}  ({report.fingerprint})")
    console.say(f"stop: {report.stop.words}")
    _print_stop(report, console)
    for item in report.warnings:
        console.say(f"think again: {item.words}")
        console.say(f"    {item.key}: {item.remedy}")
    console.say()
    _print_proof(report, console)
    console.say(report.exact.words)
    console.say()
    _print_campaign(report.campaign, console, each=each)
    for words in report.empty:
        console.say(f"EMPTY: {words}")
    for words in report.left_out:
        console.notice(f"physics: {words}")


def _print_stop(report: FailsafeReport, console: Console) -> None:
    """The promise, the time in full, and what the campaign measured."""
    stop = report.stop
    kept = "kept" if stop.kept else "NOT KEPT"
    console.say(
        f"promise: all outputs at zero within {stop.promised_ms:g} ms of the last good pulse; "
        f"worst case {stop.worst_ms} ms: {kept}"
    )
    parts = " + ".join(f"{words} {ms:g}" for words, ms in stop.parts)
    beyond = "" if stop.in_full_ms <= stop.promised_ms else "; the promise counts to the last tick only"
    full = f"{parts} = {stop.in_full_ms:g} ms{beyond}"
    console.say(f"from the radio's last good frame to a wire's last moving pulse: {full}")
    console.say(stop.late)
    console.say(stop.hang)
    measured = report.campaign.longest_loss_ms
    if measured is not None:
        console.say(
            f"measured in this campaign from the loss of every channel to zero: {measured} ms at most, "
            f"of the {stop.worst_ms} ms above"
        )


def _print_proof(report: FailsafeReport, console: Console) -> None:
    """Every rule: how the proof ended, its time, and in how many runs of the campaign it had a say."""
    witnesses = {item.rule: item.scenarios for item in report.campaign.witnesses}
    if report.proof is None:
        console.say("rules: not proven in this run (--no-proof)")
        console.say()
        return
    rows = []
    for item in report.proof.rules:
        bound = "" if item.bound_ms is None else f"{item.bound_ms} ms"
        broken = item.rule in report.campaign.broken_rules
        outcome = "BROKEN in simulation" if broken else item.outcome.value
        runs = str(witnesses[item.rule]) if item.rule in witnesses else ""
        rows.append((outcome, bound, runs, item.words))
    console.table(("outcome", "within>", "witnesses>", "rule, for all inputs and all states"), rows)
    for reason in dict.fromkeys(item.reason for item in report.proof.rules if item.reason):
        rules = ", ".join(item.rule for item in report.proof.rules if item.reason == reason)
        console.say(f"{rules}: {reason}")
    for item in report.proof.rules:
        if item.counter_example is not None:
            ticks = len(item.counter_example.rows)
            console.say(f"{item.rule}: breaks {ticks} ticks after power-up; --examples writes that run")
    console.say()


def _print_campaign(result: CampaignResult, console: Console, *, each: bool) -> None:
    console.say(
        f"{result.scenarios} scenarios of {result.seconds:g} s, seed {result.seed}, "
        f"engine {result.engine}; "
        f"{len(result.faults)} faults, sticks at chance places, {result.pairs}"
    )
    families = families_of(result, each=each)
    rolled = [f"rolled, {word}>" for word in result.rolls]
    columns = ("fault", "runs>", "to neutral>", *rolled, "verdict")
    console.table(columns, [_cells(family, len(rolled)) for family in families])
    broken = [(family, item) for family in families for item in family.broken]
    for family, item in broken:
        console.say(f"BROKEN under {family.name}: {item.words} ({item.scenarios} runs)")
    console.say()
    for line in _advice(result):
        console.say(line)
    console.say()


def _cells(family: Family, ways: int) -> tuple[str, ...]:
    neutral = "" if family.neutral_ms is None else f"{family.neutral_ms} ms"
    rolled = [f"{way:.2f} m" for way in family.rolled_m] or [""] * ways
    if family.away_m is not None and family.away_m > DRIVES_M:
        rolled[-1] = f"{rolled[-1]}, " * bool(rolled[-1]) + f"{family.away_m:.1f} m and on"
    return family.name, str(family.scenarios), neutral, *rolled, family.verdict_words


def _advice(result: CampaignResult) -> Iterator[str]:
    """What the firmware cannot see, and what to do about it; each advice once."""
    words: dict[str, list[str]] = {}
    for fault in result.faults:
        if fault.verdict is FaultVerdict.UNKNOWABLE and fault.advice and not fault.key.startswith(PAIR):
            words.setdefault(fault.advice, []).append(fault.key)
    if words:
        yield "What firmware cannot know, and what to do by hand:"
    for advice, keys in words.items():
        shown = ", ".join(keys[:3]) + (f" and {len(keys) - 3} more" if len(keys) > 3 else "")
        yield f"  {shown}: {advice}"
