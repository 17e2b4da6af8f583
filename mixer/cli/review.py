"""`stickwright review`: what recorded drives say of the robot and its driver, one or side by side."""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from mixer.cli.shared.arguments import add_engine, add_loadout, add_mapping, add_output, add_path
from mixer.cli.shared.console import Console, Exit
from mixer.cli.shared.playing import drive_log, play, robot_for
from mixer.errors import OptionError
from mixer.files import check_place, write_file
from mixer.profile.profile import Profile, load_profile
from mixer.profile.read.fitting import fitting_of
from mixer.review.drive import DriveReview, Reviewer
from mixer.review.moments import Place
from mixer.review.page import MARK, Shown, draw_page, journals
from mixer.review.side import side_by_side
from mixer.runs.log.head import tuning_of
from mixer.runs.measure.plot import plotter

MOST_LOGS = 12
MOST_TOLD = 12
"""Gaps and pauses that are told one by one on the screen; the page and --json have all."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Profiles and logs, and the page."""
    add_path(
        parser,
        "files",
        nargs="+",
        metavar="FILE",
        help="a profile (TOML) and its logs (CSV); logs after another profile belong to that one",
    )
    add_mapping(parser)
    add_loadout(parser)
    add_engine(parser)
    add_output(parser, "HTML", "also write a page with pictures; it needs matplotlib")


@dataclass(frozen=True, slots=True)
class _Given:
    """A log and the robot it is played through."""

    path: Path
    profile: Profile
    loadout: str | None
    log: Path
    recorded_with: str | None
    """The fingerprint that the log bears."""


def run(args: argparse.Namespace, console: Console) -> Exit:
    """Play every log, then tell what it said."""
    given = _given(args)
    if args.output:
        plotter()
        check_place(args.output, inputs=args.files, marks=[MARK], overwrite=args.overwrite)
    shown = [_reviewed(args, each, console) for each in given]
    reviews = [each.review for each in shown]
    for review in reviews:
        _print(review, console)
    for profile, journal in journals(reviews).items():
        console.heading(f"journal of {profile}")
        for entry in journal:
            console.say(f"  {entry}")
        console.say()
    beside = side_by_side(reviews)
    if len(reviews) > 1:
        console.heading("side by side")
        heads = [f"{number} {Path(one.log).stem}>" for number, one in enumerate(reviews, start=1)]
        console.table(["", *heads], ([row.what, *row.answers] for row in beside))
    if args.output:
        write_file(args.output, draw_page(shown))
        console.say(f"written: {args.output}")
    console.document({"drives": reviews, "side_by_side": beside})
    return Exit.FINE


def _given(args: argparse.Namespace) -> list[_Given]:
    """Each log with the profile before it, in the loadout it says that it was recorded with."""
    found: list[_Given] = []
    path: Path | None = None
    profile: Profile | None = None
    for file in args.files:
        if file.suffix.lower() == ".toml":
            path, profile = file, load_profile(file)
        elif path is None or profile is None:
            said = f"{file} stands before any profile"
            raise OptionError(said, "name the robot first: stickwright review robot.toml drive.csv")
        else:
            mark = tuning_of(file)
            found.append(_Given(path, profile, args.loadout or profile.loadout_of(mark or ""), file, mark))
    if not found:
        raise OptionError("there is no log to review", "name one after the profile: robot.toml drive.csv")
    if len(found) > MOST_LOGS:
        raise OptionError(f"{len(found)} logs are too many", f"give {MOST_LOGS} at most")
    return found


def _reviewed(args: argparse.Namespace, given: _Given, console: Console) -> Shown:
    profile, loadout = given.profile, given.loadout
    log_args = argparse.Namespace(**(vars(args) | {"log": given.log}))
    log = drive_log(log_args, profile, loadout)
    robot = robot_for(args, profile, loadout)
    reviewer = Reviewer(robot.build, robot)
    play(log, robot, console, f"reviewing {given.log.name}")
    mark, fingerprint = given.recorded_with, profile.fingerprint(loadout)
    if mark is not None and mark != fingerprint:
        console.notice(f"{given.log.name} was recorded with {mark}, and is played through {fingerprint}")
    options = fitting_of(loadout).options
    place = Place(given.path, given.log, options, tuple(f"--map={one}" for one in args.map))
    return Shown(reviewer.review(place, fingerprint, mark), reviewer.timeline.points())


def _print(review: DriveReview, console: Console) -> None:
    drive = review.drive
    console.heading(f"{review.log}: {drive.robot} ({review.fingerprint}), {drive.duration_s:.1f} s")
    _print_pauses(review, console)
    _print_sticks(review, console)
    console.table(
        ["", "answer>"],
        ([row.what, *row.answers] for row in side_by_side([review]) if _new(row.what, review)),
    )
    console.say(review.physics_words)
    if review.moments:
        console.say()
        console.heading("worth seeing")
    for moment in review.moments:
        console.say(f"{moment.at_s:9.3f} s  {moment.words}")
        console.say(f"             {moment.bench}")
        console.say(f"             {moment.explain}")
    console.say()


def _new(what: str, review: DriveReview) -> bool:
    """Whether a row tells what no table above it has told."""
    return what not in ("length", "live") and not any(what.startswith(s.name + " ") for s in review.sticks)


def _print_pauses(review: DriveReview, console: Console) -> None:
    waited = ", ".join(f"{words} {seconds:.1f} s" for words, seconds in review.waited_s.items() if seconds)
    console.say(f"live {review.live_s:.1f} s" + (f"; else waiting for {waited}" if waited else ""))
    for pause in review.pauses[:MOST_TOLD]:
        end = "" if pause.ended else ", to the end"
        console.say(f"{pause.at_s:9.3f} s  {pause.began} for {pause.lasted_s:.2f} s{end}: {pause.why}")
    _print_more(len(review.pauses), console)
    for gap in review.gaps[:MOST_TOLD]:
        stops = ", lost" if gap.lost else ""
        told = f"{', '.join(gap.channels)}: no good pulse for {gap.lasted_s * 1000:.0f} ms{stops}"
        console.say(f"{gap.at_s:9.3f} s  {told}")
    _print_more(len(review.gaps), console)
    console.say()


def _print_more(count: int, console: Console) -> None:
    if count > MOST_TOLD:
        console.say(f"           ... and {count - MOST_TOLD} more")


def _print_sticks(review: DriveReview, console: Console) -> None:
    console.table(
        ["stick", "low to high end", "in deadband>", "at full>", "mean size>", "shapes"],
        [
            [
                stick.name,
                _bars(stick.histogram),
                f"{stick.in_deadband:.0%}",
                f"{stick.at_full:.1%}",
                f"{stick.mean_size:.0%}",
                ", ".join(f"{use.position} {use.share:.0%}" for use in stick.shapes if use.live_s) or "-",
            ]
            for stick in review.sticks
        ],
    )
    console.say()


def _bars(histogram: Sequence[float]) -> str:
    """A histogram in a line: the higher the bar, the longer; by square roots, so that rare places show."""
    middle = len(histogram) // 2
    halved = [a + b for a, b in zip(histogram[:middle:2], histogram[1:middle:2], strict=True)]
    halved.append(histogram[middle])
    halved += [a + b for a, b in zip(histogram[middle + 1 :: 2], histogram[middle + 2 :: 2], strict=True)]
    most = max(halved) or 1.0
    return "".join(" ▁▂▃▄▅▆▇█"[round((share / most) ** 0.5 * 8)] for share in halved)
