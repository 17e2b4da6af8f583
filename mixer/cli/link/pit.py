"""`stickwright pit`: one list, one verdict, two minutes before a match."""

import argparse
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from pathlib import Path

from mixer.cli.link.board import add_port, open_board, require_port
from mixer.cli.link.guide import Guide, Heard, led_through, require_answers
from mixer.cli.shared.arguments import (
    add_loadout,
    add_output,
    add_path,
    add_profile,
    inputs_of,
    require_robot,
)
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, WriteError
from mixer.files import check_place, write_file
from mixer.link.pit.pit import Pit, Subject
from mixer.link.pit.report import FORMAT, PitResult, PitStep, read_pit
from mixer.link.rehearse.report import CAUTION
from mixer.link.session import MachineClock, SessionEvent
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.journal import entries, local_time, note
from mixer.profile.profile import load_profile
from mixer.profile.read.fitting import fitting_of
from mixer.sheet.checks import checks_of

NOTED = 3
"""Lines of the journal that are shown before the first question."""
STALE = timedelta(hours=3)
"""An unfinished check older than this begins anew: volts and hands have changed meanwhile."""
ASKED_ITSELF = {"code", "directions", "off", "again", "stops", "mass"}
"""Checks of the event's sheet that the list goes through itself, where a board is there."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The robot, its board if one is there, and where the result goes."""
    add_profile(parser)
    add_port(parser)
    add_output(parser, "JSON", "save here; default: beside the profile, named by the time it began")
    add_path(parser, "--since", metavar="FILE", help="an earlier result: do only what has changed since")
    add_loadout(parser)


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Go through the list; 0 only when every step passed, 130 when it was left unfinished."""
    if args.port is not None:
        require_port(args)
    require_answers()
    subject = _subject(args)
    since = read_pit(args.since) if args.since else None
    if since:
        require_robot(since.robot, [subject.plan.name], f"--since {args.since}", "an earlier check")
    before, path = _begun(args, subject)
    kept = _Kept(path, args, console)
    begun = before.begun if before else local_time()
    now_us = None if subject.connected else MachineClock().now_us
    pit = Pit(subject, begun, before=before, since=since, now_us=now_us)
    for entry in entries(args.profile, NOTED):
        console.ask("journal", str(entry))
    if before is not None:
        console.ask("taken up again", f"begun {before.begun}, {len(before.steps)} steps done; {path}")
    ended = _gone_through(args, pit, subject, kept, console)
    return _end(args, pit.result(local_time()), kept, console, ended=ended)


class _Kept:
    """What was found, saved after every step. A place that takes nothing keeps nobody from the list."""

    def __init__(self, path: Path, args: argparse.Namespace, console: Console) -> None:
        """Raises WriteError for a place that was named and takes nothing; another is told, and goes on."""
        self.path = path
        self.trouble: WriteError | None = None
        """Why nothing of the last step is there, where that is so."""
        try:
            check_place(path, inputs=inputs_of(args), marks=[FORMAT], overwrite=args.overwrite)
        except WriteError as error:
            if args.output:
                raise
            self.trouble = error
            console.ask(
                "not saved", f"{error.said}; all is shown at the end, and -o FILE saves it elsewhere"
            )

    def save(self, result: PitResult) -> None:
        """Put it there, or remember why not."""
        try:
            write_file(self.path, result.to_json())
        except WriteError as error:
            self.trouble = error
        else:
            self.trouble = None


def _end(
    args: argparse.Namespace, result: PitResult, kept: _Kept, console: Console, *, ended: bool
) -> Exit:
    if not ended:
        console.ask("left unfinished", _left(result, kept))
        return Exit.INTERRUPTED
    kept.save(result)
    _show(result, console)
    _note(args.profile, result, console)
    if kept.trouble:
        console.ask("NOT SAVED", f"{kept.trouble.said}; what is shown here is all there is of it")
    else:
        console.say(f"saved: {kept.path}")
    file = None if kept.trouble else str(kept.path)
    console.document(result.model_dump(mode="json") | {"file": file})
    return Exit.FINE if result.ready else Exit.FAILED


def _left(result: PitResult, kept: _Kept) -> str:
    if not result.steps:
        return "nothing was found yet, nothing is saved"
    if kept.trouble:
        return f"what was found is NOT SAVED: {kept.trouble.said}"
    return f"what was found is in {kept.path}; the same command goes on from there"


def _note(profile: Path, result: PitResult, console: Console) -> None:
    """A line in the journal; where it takes none, the verdict stands all the same."""
    try:
        note(profile, result.fingerprint, f"pit, {result.chosen or 'base robot'}: {result.verdict()}")
    except WriteError as error:
        console.ask("not in the journal", error.said)


def _gone_through(
    args: argparse.Namespace, pit: Pit, subject: Subject, kept: _Kept, console: Console
) -> bool:
    """Whether it came to its end. What was found is saved after every step."""
    names = [channel.name for channel in subject.plan.channels] if subject.connected else []

    def judged() -> None:
        kept.save(pit.result(local_time()))

    guide = Guide(pit, names, console, judged, subject.watch)
    return led_through(guide, _link(args, subject, console), console)


class _NoBoard:
    """Where no board is connected, only time passes."""

    def poll(self, wait_s: float) -> list[SessionEvent]:
        """Nothing, after so long."""
        time.sleep(wait_s)
        return []


@contextmanager
def _link(args: argparse.Namespace, subject: Subject, console: Console) -> Iterator[Heard]:
    if not subject.connected:
        yield _NoBoard()
        return
    with open_board(args, subject.tunings, console, subject.watch) as session:
        yield session


def _subject(args: argparse.Namespace) -> Subject:
    profile = load_profile(args.profile)
    robot, fingerprint = profile.robot(args.loadout), profile.fingerprint(args.loadout)
    connected = args.port is not None
    itself = ASKED_ITSELF if connected else {"code", "mass"}
    checks = {check.key: check.words for check in checks_of(robot, fingerprint) if check.key not in itself}
    chosen = "" if args.loadout is None else fitting_of(args.loadout).title
    tunings = Tunings(profile, args.loadout)
    return Subject(tunings, chosen, checks, BoardWatch(tunings) if connected else None)


def _begun(args: argparse.Namespace, subject: Subject) -> tuple[PitResult | None, Path]:
    """The check that was left unfinished a short while ago, if any, and where this one is saved."""
    stem, folder = args.profile.stem, args.profile.parent
    named = [args.output] if args.output else sorted(folder.glob(f"{stem}.pit-*.json"), reverse=True)
    for path in (path for path in named if path != args.since):
        with suppress(OptionError):
            found = read_pit(path)
            same = (found.fingerprint, found.chosen) == (subject.fingerprint, subject.chosen)
            if same and not found.complete and _is_fresh(found.begun):
                return found, path
    return (
        None,
        args.output or folder / f"{stem}.pit-{local_time().replace(':', '').replace(' ', '-')}.json",
    )


def _is_fresh(begun: str) -> bool:
    try:
        return datetime.now() - datetime.fromisoformat(begun) < STALE  # noqa: DTZ005  local, as it was written
    except (ValueError, TypeError):
        return False


def _show(result: PitResult, console: Console) -> None:
    about = " ".join(part for part in (result.robot, result.chosen, result.fingerprint) if part)
    console.say()
    console.table(["step", "verdict", "what was found"], map(_line, result.steps), title=about)
    console.say()
    console.heading(result.verdict())
    console.say(CAUTION)


def _line(step: PitStep) -> list[str]:
    kept = f" (kept from {step.at}, nothing it rests on has changed)" if step.kept else ""
    return [step.step, step.outcome.upper(), step.said + kept]
