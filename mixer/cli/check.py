"""`stickwright check`: find every mistake of a profile, and show what the firmware gets from it."""

import argparse
from typing import Any

from mixer.board.kinds.known import BOARDS
from mixer.cli.board.verdict import ALL, tell_boards
from mixer.cli.shared.arguments import add_loadout, add_profile
from mixer.cli.shared.console import Console, Exit
from mixer.core.plan import Plan
from mixer.errors import ProfileError
from mixer.laws.creep import creep_remedy, creeps
from mixer.lower.graph.ranges import checked_ranges
from mixer.plant.from_profile import prepare
from mixer.profile.integers.numbers import numbers
from mixer.profile.profile import Profile, load_profile
from mixer.profile.read.fitting import fitting_of
from mixer.sizing.contradictions import contradictions

COLUMNS = (
    "loadout",
    "channels>",
    "outputs>",
    "actuators>",
    "tick",
    "stops within",
    "int32 used>",
    "fingerprint>",
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The profile, and whether to show its integers."""
    add_profile(parser)
    add_loadout(parser)
    parser.add_argument(
        "--numbers", action="store_true", help="show every integer of the plan and what it stands for"
    )
    parser.add_argument(
        "--board",
        metavar="NAME",
        help=f"whether it fits this board ({', '.join(BOARDS)}, or {ALL} of them), and every wire's pin; "
        "default: the profile's own board, in a line",
    )


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Every loadout is read and checked; --numbers shows one of them."""
    profile = load_profile(args.profile)
    reports = [_report(profile, loadout) for loadout in _chosen(args, profile)]
    _tell_notices(profile, reports, console)
    creeping = [report for report in reports if report["creep"]]
    for report in creeping:
        _print_creep(profile, report, console)
    found = "neutral does not mean rest" if creeping else "fine"
    what = "combination" if profile.operators or profile.receivers else "loadout"
    console.say(f"{profile.where}: {found}, {len(reports)} {what}{'s'[: len(reports) > 1]} checked")
    console.table(COLUMNS, [_line(report) for report in reports])
    if args.numbers:
        reports[0]["numbers"] = _print_numbers(profile.plan(args.loadout), console)
    loadouts = [report["loadout"] for report in reports]
    fits, boards = tell_boards(profile, loadouts, args.board, console)
    document = {"profile": profile.where, "fine": not creeping, "loadouts": reports, "boards": boards}
    console.document(document)
    return max(fits, Exit.FAILED if creeping else Exit.FINE)


def _tell_notices(profile: Profile, reports: list[dict[str, Any]], console: Console) -> None:
    """Each once, with where it holds: what most combinations share is no line for every one of them."""
    for notice in dict.fromkeys(notice for report in reports for notice in report["notices"]):
        names = [
            fitting_of(report["loadout"]).words or "base"
            for report in reports
            if notice in report["notices"]
        ]
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        where = f"all {len(names)}" if more and len(names) == len(reports) else f"{names[0]}{more}"
        console.notice(f"{profile.where} ({where}): {notice}")


def _chosen(args: argparse.Namespace, profile: Profile) -> list[str | None]:
    """The loadout asked for, else all. Raises ProfileError where any of them is wrong."""
    if args.loadout is not None:
        return [args.loadout]
    if profile.problems:
        raise ProfileError(profile.problems)
    return list(profile.fittings)


def _print_creep(profile: Profile, report: dict[str, Any], console: Console) -> None:
    """Every output that moves with its sticks at neutral, and what to change."""
    where = f"{profile.where} ({fitting_of(report['loadout']).words or 'base'}): guard.neutral_within"
    for item in report["creep"]:
        console.say(
            f"{where}: with {item['stick']} still at neutral, {item['output']} creeps at up to "
            f"{item['percent']:g} % of full"
        )
    console.say(f"{where}: {report['creep_remedy']}")


def _print_numbers(plan: Plan, console: Console) -> list[dict[str, Any]]:
    rows = numbers(plan)
    console.say()
    console.table(
        ["number of the plan", "value>", "unit", "stands for"],
        ([row.name, str(row.value), row.unit, row.real] for row in rows),
    )
    return [{"name": row.name, "value": row.value, "unit": row.unit} for row in rows]


def _report(profile: Profile, loadout: str | None) -> dict[str, Any]:
    plan, robot = profile.plan(loadout), profile.robot(loadout)
    ranges, creeping = checked_ranges(plan, profile.where), creeps(plan)
    return {
        "loadout": loadout,
        "notices": [*profile.notices(loadout), *contradictions(robot)],
        "physics_left_out": list(prepare(robot).left_out),
        "creep": [
            {"output": item.output, "stick": item.stick, "percent": round(item.share * 100, 1)}
            for item in creeping
        ],
        "creep_remedy": creep_remedy(plan) if creeping else "",
        "channels": [channel.name for channel in plan.channels],
        "outputs": [output.name for output in plan.outputs],
        "actuators": [actuator.name for actuator in plan.actuators],
        "tick_ms": plan.tick_ms,
        "stop_within_ms": profile.stop_within_ms(loadout),
        "headroom": ranges.headroom,
        "fingerprint": profile.fingerprint(loadout),
    }


def _line(report: dict[str, Any]) -> list[str]:
    return [
        fitting_of(report["loadout"]).words or "(base)",
        str(len(report["channels"])),
        str(len(report["outputs"])),
        str(len(report["actuators"])),
        f"{report['tick_ms']} ms",
        f"{report['stop_within_ms']:g} ms",
        f"{1 / report['headroom']:.0%}",
        report["fingerprint"],
    ]
