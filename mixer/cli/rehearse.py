"""`stickwright rehearse`: step by step through what this receiver does when its transmitter goes off."""

import argparse

from mixer.cli.link.board import add_port, open_board, require_port
from mixer.cli.link.guide import Guide, led_through, require_answers
from mixer.cli.shared.arguments import add_loadout, add_output, add_profile, inputs_of
from mixer.cli.shared.console import Console, Exit
from mixer.files import check_place, write_file
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import CAUTION, FORMAT, Outcome, RehearsalResult, StepVerdict
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The robot, its board, and where the result goes."""
    add_profile(parser)
    add_port(parser)
    add_output(parser, "JSON", "save the result, for the sheet")
    add_loadout(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Rehearse; 0 only when every step was gone through and passed, 130 when it was broken off."""
    require_port(args)
    require_answers()
    tunings = Tunings(load_profile(args.profile), args.loadout)
    if args.output:
        check_place(args.output, inputs=inputs_of(args), marks=[FORMAT], overwrite=args.overwrite)
    result = _rehearsed(args, tunings, console)
    if result is None:
        console.ask("broken off", "nothing was judged as a whole, nothing is saved")
        return Exit.INTERRUPTED
    if args.output:
        write_file(args.output, result.to_json())
    _show(result, console)
    if args.output:
        console.say(f"saved: {args.output}")
    console.document(result.as_dict())
    return Exit.FINE if result.passed else Exit.FAILED


def _rehearsed(args: argparse.Namespace, tunings: Tunings, console: Console) -> RehearsalResult | None:
    """The result of a rehearsal that came to its end; None for one that was broken off."""
    plan, watch = tunings.plan, BoardWatch(tunings)
    rehearsal = Rehearsal(plan)
    guide = Guide(rehearsal, [channel.name for channel in plan.channels], console, watch=watch)
    link = open_board(args, tunings, console, watch)
    return rehearsal.result() if led_through(guide, link, console) else None


def _show(result: RehearsalResult, console: Console) -> None:
    console.say()
    console.table(["step", "verdict", "what was found"], map(_line, result.verdicts), title=result.robot)
    console.say()
    console.say(f"receiver: {result.kind or 'could not be found out'}")
    console.heading(_whole(result))
    console.say(CAUTION)


def _line(verdict: StepVerdict) -> list[str]:
    return [verdict.step, verdict.outcome.upper(), verdict.said + _receiver_time(verdict)]


def _receiver_time(verdict: StepVerdict) -> str:
    """When the receiver did it, as near as the person's answer tells."""
    after = dict(verdict.facts).get("receiver_after_ms")
    if not isinstance(after, float) or not after:
        return ""
    side = "after" if after > 0 else "before"
    return f" (the receiver did so about {abs(after):.0f} ms {side} the answer)"


def _whole(result: RehearsalResult) -> str:
    if result.passed:
        return "PASSED: every step"
    counts = {outcome: sum(v.outcome is outcome for v in result.verdicts) for outcome in Outcome}
    told = ", ".join(f"{number} {outcome}" for outcome, number in counts.items() if number)
    return f"NOT PASSED: {told}" + ("" if result.complete else "; it ended before its last step")
