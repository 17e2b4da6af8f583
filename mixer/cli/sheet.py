"""`stickwright sheet`: one page to print for the people at the event."""

import argparse
import json
from pathlib import Path
from typing import Any

from mixer.cli.shared.arguments import FILES, add_loadout, add_output, add_profile, inputs_of
from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.overflow import checked_ranges
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.failsafe.campaign.results import CampaignResult
from mixer.failsafe.campaign.run import DEFAULT_SCENARIOS, run_campaign
from mixer.failsafe.proof.theorems import DEFAULT_LIMIT_S, ProofResult, prove_rules
from mixer.failsafe.report.account import Options, request_of, stop_words
from mixer.failsafe.report.warnings import warnings_of
from mixer.files import check_place, write_file
from mixer.laws.expect import loss_ms, lost_ms, stop_ms
from mixer.link.rehearse.report import FORMAT
from mixer.lower.c.export import export_files
from mixer.plant.from_profile import prepare
from mixer.plant.sizing.finding import Verdict
from mixer.plant.sizing.report import size
from mixer.profile.profile import Profile, load_profile
from mixer.sheet import (
    FaultLine,
    Outcome,
    Proven,
    Rehearsed,
    RuleLine,
    Seen,
    SheetFacts,
    Simulated,
    StopFacts,
    code_fingerprint,
    draw_sheet,
)

MOST_SCENARIOS = 2_000_000
MARK = "<title>Data sheet: "
"""Stands near the beginning of every file that this command wrote."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, the page, and what to run for it."""
    add_profile(parser)
    add_output(parser, "HTML", "the page to write", required=True)
    add_loadout(parser)
    rehearsal = parser.add_argument(
        "--rehearsal", type=Path, metavar="FILE", help="what `rehearse` found out about the receiver (JSON)"
    )
    rehearsal.complete = FILES  # type: ignore[attr-defined]
    campaign = parser.add_mutually_exclusive_group()
    campaign.add_argument(
        "--scenarios",
        type=int,
        default=DEFAULT_SCENARIOS,
        metavar="N",
        help=f"simulate at least so many faults; default {DEFAULT_SCENARIOS}",
    )
    campaign.add_argument("--no-campaign", action="store_true", help="leave the simulated faults out")
    parser.add_argument("--no-proof", action="store_true", help="leave the proof out; it needs z3-solver")


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Write the page; exit 1 where it has to say that something does not hold."""
    if not 1 <= args.scenarios <= MOST_SCENARIOS:
        raise OptionError(f"--scenarios {args.scenarios}", f"give 1 to {MOST_SCENARIOS}")
    profile = load_profile(args.profile)
    plan = profile.plan(args.loadout)
    checked_ranges(plan, profile.where)
    rehearsed = _rehearsed(args.rehearsal, profile, args.loadout) if args.rehearsal else None
    check_place(args.output, inputs=inputs_of(args), marks=[MARK], overwrite=args.overwrite)
    facts = _facts(args, profile, rehearsed, console)
    sheet = draw_sheet(facts)
    write_file(args.output, sheet.html)
    fails = _failures(facts)
    console.say(f"{args.output}: {plan.name}, one page in {sheet.size_pt:g} pt.")
    for cut in sheet.cuts:
        console.notice(f"cut to fit the page: {cut}")
    for words in fails:
        console.say(f"does not hold: {words}")
    console.document(
        {
            "sheet": str(args.output),
            "robot": plan.name,
            "fingerprint": facts.profile_fingerprint,
            "code_fingerprint": facts.code_fingerprint,
            "size_pt": sheet.size_pt,
            "cuts": [str(cut) for cut in sheet.cuts],
            "failures": fails,
        }
    )
    return Exit.FAILED if fails else Exit.FINE


def _facts(
    args: argparse.Namespace, profile: Profile, rehearsed: Rehearsed | None, console: Console
) -> SheetFacts:
    loadout = args.loadout
    robot, plan, fingerprint = profile.robot(loadout), profile.plan(loadout), profile.fingerprint(loadout)
    with console.progress("playing the match", 1.0) as meter:
        sized = size(prepare(robot), progress=meter.at)
    proven = None
    if not args.no_proof:
        with console.progress("proving the rules", 1.0) as meter:
            proven = _proven(prove_rules(plan, DEFAULT_LIMIT_S, meter.at))
    simulated = None
    if not args.no_campaign:
        with console.progress("simulating faults", 1.0) as meter:
            request = request_of(profile, loadout, Options(scenarios=args.scenarios))
            simulated = _simulated(run_campaign(request, meter.at))
    return SheetFacts(
        file=args.profile.name,
        loadout=loadout,
        robot=robot,
        plan=plan,
        profile_fingerprint=fingerprint,
        code_fingerprint=code_fingerprint(export_files(plan, fingerprint)),
        stop=_stop(profile, loadout, plan),
        size=sized,
        proven=proven,
        simulated=simulated,
        rehearsed=rehearsed,
        warnings=tuple(item.words for item in warnings_of(plan, robot)),
    )


def _stop(profile: Profile, loadout: str | None, plan: Plan) -> StopFacts:
    return StopFacts(
        promised_ms=profile.stop_within_ms(loadout),
        worst_ms=loss_ms(plan) + plan.tick_ms,
        detected_ms=lost_ms(plan) + plan.tick_ms,
        reaction_ms=stop_ms(plan),
        words=stop_words(plan),
    )


def _proven(result: ProofResult) -> Proven:
    return Proven(
        tuple(
            RuleLine(item.rule, item.words, Outcome(item.outcome.value), item.bound_ms, item.reason)
            for item in result.rules
        )
    )


def _simulated(result: CampaignResult) -> Simulated:
    faults = (
        FaultLine(item.key, item.scenarios, Seen(item.verdict.value), item.neutral_ms, item.distance_m)
        for item in result.faults
    )
    return Simulated(result.seed, result.seconds, tuple(faults))


def _failures(facts: SheetFacts) -> list[str]:
    """What makes the command end with 1, in words."""
    fails = [] if facts.stop.kept else ["the promised time to stop"]
    if facts.proven is not None:
        rules = facts.proven.rules
        fails += [
            f"{rule.key}: {rule.outcome.value}" for rule in rules if rule.outcome is not Outcome.PROVEN
        ]
    if facts.simulated is not None:
        faults = facts.simulated.faults
        fails += [f"a rule under {fault.key}" for fault in faults if fault.seen is Seen.BROKEN]
    fails += [f"{f.label}: over its limit" for f in facts.size.findings if f.verdict is Verdict.OVER]
    if facts.rehearsed is not None and not facts.rehearsed.passed:
        fails.append("the rehearsal with this receiver")
    return fails


def _rehearsed(path: Path, profile: Profile, loadout: str | None) -> Rehearsed:
    """Raises OptionError for what is not a rehearsal of this robot."""
    remedy = "give the file that `stickwright rehearse` wrote for this robot"
    try:
        found: Any = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or "no JSON in it"
        raise OptionError(f"--rehearsal {path}: {said}", remedy) from error
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise OptionError(f"--rehearsal {path}: not a rehearsal", remedy)
    names = (profile.plan(loadout).name, profile.robot(loadout).robot.name)
    if found.get("robot") not in names:
        raise OptionError(f"--rehearsal {path}: of {found.get('robot')!r}, not of {names[0]!r}", remedy)
    steps = [item for item in found.get("steps", ()) if isinstance(item, dict)]
    not_passed = (f"{i.get('step')}: {i.get('outcome')}" for i in steps if i.get("outcome") != "passed")
    return Rehearsed(
        robot=str(found["robot"]),
        receiver=str(found.get("receiver") or ""),
        passed=found.get("passed") is True,
        complete=found.get("complete") is True,
        not_passed=tuple(not_passed),
    )
