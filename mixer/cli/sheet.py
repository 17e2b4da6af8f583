"""`stickwright sheet`: one page to print for the people at the event."""

import argparse
from dataclasses import replace
from pathlib import Path

from mixer.board.image.elf import read_image
from mixer.board.project.timing import program_time
from mixer.board.wiring.own import own_wiring
from mixer.cli.shared.arguments import (
    add_loadout,
    add_output,
    add_path,
    add_profile,
    inputs_of,
    require_robot,
)
from mixer.cli.shared.console import Console, Exit
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.failsafe.campaign.run import DEFAULT_SCENARIOS, run_campaign
from mixer.failsafe.proof.theorems import prove_rules
from mixer.failsafe.report.account import Options, request_of
from mixer.failsafe.report.stop import stop_of
from mixer.failsafe.report.warnings import warnings_of
from mixer.files import check_place, write_file
from mixer.link.pit.report import PitResult, read_pit
from mixer.link.rehearse.report import RehearsalResult, read_rehearsal
from mixer.live.robot.robot import build_of
from mixer.lower.c.export import export_files
from mixer.lower.graph.ranges import checked_ranges
from mixer.profile.journal import entries
from mixer.profile.profile import Profile, load_profile
from mixer.sheet.facts import SheetFacts, code_fingerprint
from mixer.sheet.page import Sheet, draw_sheet
from mixer.sheet.plain.answers import answers_of
from mixer.sheet.plain.page import CLOSING, plain_page
from mixer.sheet.plain.page import MARK as PLAIN
from mixer.sheet.worst import concerns
from mixer.sizing.report import size

MOST_SCENARIOS = 2_000_000
JOURNAL = 2
"""Lines of the profile's journal on the page."""
MARK = "<title>Data sheet: "
"""Stands near the beginning of every file that this command wrote."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, the page, and what to run for it."""
    add_profile(parser)
    add_output(parser, "HTML", "the page to write; with --plain it may be left out")
    parser.add_argument(
        "--plain", action="store_true", help="instead, what inspectors and newcomers ask, in plain words"
    )
    add_loadout(parser)
    add_path(
        parser, "--rehearsal", metavar="FILE", help="what `rehearse` found out about the receiver (JSON)"
    )
    add_path(parser, "--pit", metavar="FILE", help="what `pit` found (JSON)")
    add_path(
        parser,
        "--elf",
        metavar="FILE",
        help="the compiled program: its tick's longest time goes on the page",
    )
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
    checked = _checked(args.pit, plan) if args.pit else None
    tick = program_time(profile, args.loadout, read_image(args.elf)) if args.elf else None
    if args.output is None and not args.plain:
        raise OptionError("where to? -o is missing", "name the page to write: -o sheet.html")
    if args.output is not None:
        mark = PLAIN if args.plain else MARK
        check_place(args.output, inputs=inputs_of(args), marks=[mark], overwrite=args.overwrite)
    facts = replace(_facts(args, profile, console), rehearsed=rehearsed, pit=checked, tick=tick)
    facts = replace(facts, journal=entries(args.profile, JOURNAL))
    return _plain(args.output, facts, console) if args.plain else _sheet(args.output, facts, console)


def _plain(path: Path | None, facts: SheetFacts, console: Console) -> Exit:
    """Questions and answers; 1 where an answer speaks against the robot."""
    answers = answers_of(facts)
    console.heading(f"{facts.plan.name}  ({facts.profile_fingerprint})")
    for answer in answers:
        console.say()
        console.heading(answer.question)
        for said in answer.said:
            console.say(f"  {'! ' if said.bad else ''}{said.words}  [{said.how}]")
    console.say()
    for words in CLOSING:
        console.say(words)
    if path is not None:
        write_file(path, plain_page(facts, answers))
        console.say(f"written: {path}")
    document = {"robot": facts.plan.name, "fingerprint": facts.profile_fingerprint}
    console.document({**document, "answers": answers})
    return Exit.FAILED if any(said.bad for answer in answers for said in answer.said) else Exit.FINE


def _sheet(path: Path, facts: SheetFacts, console: Console) -> Exit:
    sheet = draw_sheet(facts)
    write_file(path, sheet.html)
    fails = [concern.words for concern in concerns(facts) if concern.fails]
    console.say(
        f"{path}: {facts.plan.name}, laid out for one page of A4 or Letter in {sheet.size_pt:g} pt."
    )
    for cut in sheet.cuts:
        console.notice(f"cut to fit the page: {cut}")
    for words in fails:
        console.say(f"does not hold: {words}")
    console.document(_as_data(path, facts, sheet, fails))
    return Exit.FAILED if fails else Exit.FINE


def _facts(args: argparse.Namespace, profile: Profile, console: Console) -> SheetFacts:
    loadout = args.loadout
    build, fingerprint = build_of(profile, loadout), profile.fingerprint(loadout)
    plan = build.plan
    with console.progress("driving the match", 1.0) as meter:
        sized = size(build, progress=meter.at)
    proven = None
    if not args.no_proof:
        with console.progress("proving the rules", 1.0) as meter:
            proven = prove_rules(plan, progress=meter.at)
    simulated = None
    if not args.no_campaign:
        with console.progress("simulating faults", 1.0) as meter:
            request = request_of(build, Options(scenarios=args.scenarios))
            simulated = run_campaign(request, meter.at)
    return SheetFacts(
        file=args.profile.name,
        loadout=loadout,
        robot=build.robot,
        plan=plan,
        profile_fingerprint=fingerprint,
        code_fingerprint=code_fingerprint(export_files(plan, fingerprint)),
        stop=stop_of(profile, loadout),
        size=sized,
        proven=proven,
        simulated=simulated,
        warnings=warnings_of(plan, build.robot),
        wiring=own_wiring(profile, loadout),
    )


def _rehearsed(path: Path, profile: Profile, loadout: str | None) -> RehearsalResult:
    """Raises OptionError for what is not a rehearsal of this robot."""
    found = read_rehearsal(path)
    names = [profile.plan(loadout).name, profile.robot(loadout).robot.name]
    require_robot(found.robot, names, f"--rehearsal {path}", "the rehearsal")
    return found


def _checked(path: Path, plan: Plan) -> PitResult:
    """Raises OptionError for what is not a pit check of this robot."""
    found = read_pit(path)
    require_robot(found.robot, [plan.name], f"--pit {path}", "the pit check")
    return found


def _as_data(path: Path, facts: SheetFacts, sheet: Sheet, fails: list[str]) -> dict[str, object]:
    return {
        "sheet": str(path),
        "robot": facts.plan.name,
        "fingerprint": facts.profile_fingerprint,
        "code_fingerprint": facts.code_fingerprint,
        "tick_cycles": facts.tick.cycles if facts.tick else None,
        "size_pt": sheet.size_pt,
        "cuts": [str(cut) for cut in sheet.cuts],
        "failures": fails,
    }
