"""`stickwright failsafe --engine board`: faults at the pins of the image, judged by what the pins show."""

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence

from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError
from mixer.failsafe.campaign.families import verdict_words_of
from mixer.failsafe.pins.flips import Flip, Outcome
from mixer.failsafe.pins.judge import NEAR, STEP
from mixer.failsafe.pins.report import DEFAULT_SCENARIOS, PinsReport, report_at_pins
from mixer.failsafe.pins.results import PinFault, PinResult
from mixer.failsafe.pins.wires.readings import CROWDED_WITHIN_US, WITHIN_US
from mixer.failsafe.report.account import CAUTIONS, Options
from mixer.profile.profile import Profile

RESTS_ON = (
    "Judged by edges alone: what went in at the pins and what came out. A simulated chip is no silicon: "
    "pads, levels, supply and oscillator are not in it; the event's rules decide."
)
MOST_SHOWN = 12


def run(
    args: argparse.Namespace, profile: Profile, loadouts: Sequence[str | None], console: Console
) -> Exit:
    """Print one report a loadout; 1 where anything is broken or nothing was tried."""
    if args.examples:
        raise OptionError(
            "--examples writes inputs of the core, and at the pins there are edges",
            "leave --examples or --engine board away",
        )
    options = Options(args.scenarios or DEFAULT_SCENARIOS, args.seed, proof=False)
    reports = []
    for loadout in loadouts:
        with console.progress(f"faults at the pins of {profile.plan(loadout).name}", 1.0) as meter:
            report = report_at_pins(profile, loadout, args.board, options, args.bits, meter.at)
        reports.append(report)
        _print(report, console, each=args.each)
    failing = [report for report in reports if report.against]
    for report in failing:
        console.say(f"does not hold for {report.robot} on the {report.board}: {'; '.join(report.against)}")
    console.say(RESTS_ON)
    console.say(CAUTIONS)
    console.document({"reports": reports})
    return Exit.FAILED if failing else Exit.FINE


def _print(report: PinsReport, console: Console, *, each: bool) -> None:
    campaign, chip = report.campaign, report.chip
    console.heading(f"{report.robot} on the {report.board}, at its pins  ({report.fingerprint})")
    console.say(
        f"{campaign.scenarios} scenarios of the campaign's faults, seed {report.seed}, as edges on input "
        f"pins; {campaign.seconds + chip.seconds:.0f} s of the chip's time in all"
    )
    _table("fault", campaign, console, each=each)
    console.say()
    _table("what only a chip can have", chip, console, each=each)
    if chip.not_reached:
        names = ", ".join(key.partition(".")[2] for key in chip.not_reached)
        console.notice(f"loops that this drive did not go round, so that nothing hung there: {names}")
    console.say()
    for words in _kept(report):
        console.say(words)
    _bits(report.bits, console)


def _table(title: str, result: PinResult, console: Console, *, each: bool) -> None:
    """Kinds of faults, or each; times from the onset to the last moving pulse at any pin."""
    groups: dict[str, list[PinFault]] = {}
    for fault in result.faults:
        groups.setdefault(fault.key if each else fault.key.partition(".")[0], []).append(fault)
    rows = [_row(name, faults) for name, faults in groups.items()]
    columns = (title, "runs>", "moving>", "in time>", "last moved>", "promised>", "verdict")
    console.table(columns, rows)
    shown = [(fault, breach) for fault in result.faults for breach in fault.breaches]
    for fault, breach in shown[:MOST_SHOWN]:
        where = f"{fault.key}, scenario {breach.lane}, {breach.ms:.1f} ms after power-up"
        console.say(f"BROKEN under {where}: {breach.output} {breach.words}")
    if len(shown) > MOST_SHOWN:
        console.say(f"... and {len(shown) - MOST_SHOWN} more")
    for fault in result.faults:
        if fault.in_time is not None and fault.in_time < fault.scenarios:
            late = f"{fault.scenarios - fault.in_time} of {fault.scenarios}"
            console.say(f"BROKEN under {fault.key}: still moving beyond the promised time in {late}")


def _row(name: str, faults: Sequence[PinFault]) -> tuple[str, ...]:
    timed = [fault for fault in faults if fault.promised_ms is not None]
    in_time = [fault.in_time or 0 for fault in timed]
    worst = max((fault.worst_ms or 0.0 for fault in timed), default=None)
    promised = max((fault.promised_ms or 0.0 for fault in timed), default=None)
    return (
        name if len(faults) == 1 else f"{name} (x{len(faults)})",
        str(sum(fault.scenarios for fault in faults)),
        str(sum(fault.moving for fault in faults)),
        f"{sum(in_time)} of {sum(fault.scenarios for fault in timed)}" if timed else "",
        "" if worst is None else f"{worst:.1f} ms",
        "" if promised is None else f"{promised:.1f} ms",
        verdict_words_of(Counter(fault.verdict for fault in faults)),
    )


def _kept(report: PinsReport) -> Iterator[str]:
    """The loss, pin to pin, against the promise; what a reset does to a pulse under way."""
    lost = next((fault for fault in report.campaign.faults if fault.key == "all-lost"), None)
    if lost is not None and lost.worst_ms is not None and lost.moving:
        parts = " + ".join(f"{words} {ms:g}" for words, ms in report.stop.parts)
        kept = "kept" if lost.in_time == lost.scenarios else "NOT KEPT"
        runs = "one run" if lost.moving == 1 else f"{lost.moving} runs that moved"
        yield (
            f"the radio's loss at the pins: the last moving pulse {lost.worst_ms:.1f} ms after it at most, "
            f"promised {parts} = {report.stop.in_full_ms:g} ms: {kept} in {runs}"
        )
    faults = [*report.campaign.faults, *report.chip.faults]
    yield _held(sum(fault.exact for fault in faults), sum(fault.near for fault in faults))
    cut = sum(fault.cut for fault in faults)
    if cut:
        were, they, each = ("s were", "they were", "it is one pulse each time") if cut > 1 else (
            " was", "it was", "it is one pulse"
        )  # fmt: skip
        yield (
            f"{cut} servo pulse{were} cut short by a reset that came while {they} high: no program can "
            f"help that, and {each}"
        )


def _held(exact: int, near: int) -> str:
    """How closely the outputs of a robot that may move were looked at."""
    words = (
        f"{exact} pulses and duties of a robot that may move were held to {STEP:g} µs or the very count "
        "that the core gives for the pulses that the board's frames say it read, each within "
        f"{WITHIN_US:g} µs of the one played ({CROWDED_WITHIN_US:g} µs where edges crowd)"
    )
    return f"{words}; {near} to {NEAR:.0%} of their span, as no such frame tells" if near else words


def _bits(bits: Sequence[Flip], console: Console) -> None:
    if not bits:
        return
    counts = Counter((flip.while_, flip.outcome) for flip in bits)
    console.say()
    for state in dict.fromkeys(flip.while_ for flip in bits):
        told = ", ".join(f"{counts[state, outcome]} {outcome.value}" for outcome in Outcome)
        console.say(f"a bit of each slot in RAM flipped while {state}: {told}")
    others = [flip for flip in bits if flip.outcome not in (Outcome.HARMLESS, Outcome.STOPPED)]
    console.table(
        ("slot:bit", "while", "outcome", "what it does"),
        [(flip.where, flip.while_, flip.outcome.value, flip.words) for flip in others],
    )
