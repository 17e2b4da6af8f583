"""A log played through a profile's firmware, as `replay` and `compare` do it."""

import argparse
from collections.abc import Collection, Iterator
from pathlib import Path

from mixer.cli.console import Console
from mixer.core.plan import Plan
from mixer.profile import Profile
from mixer.runs.engines import DEFAULT_ENGINE, Engine, make_engine
from mixer.runs.feed import feed
from mixer.runs.log_read import LogReader, open_log
from mixer.runs.mapping import parse_mapping
from mixer.runs.replay import Played, replay


def unused_names(profile: Profile, loadout: str | None) -> Collection[str]:
    """Channels and contacts the profile describes and this loadout leaves out of its plan."""
    described: set[str] = set()
    for name in (None, *profile.loadouts):
        robot = profile.robot(name)
        described.update(robot.stick, robot.switch, robot.contact)
    plan = profile.plan(loadout)
    used = {channel.name for channel in plan.channels} | {contact.name for contact in plan.contacts}
    return described - used


def engine_for(args: argparse.Namespace, plan: Plan) -> Engine:
    """The engine the command line names, or the default one."""
    return make_engine(args.engine or DEFAULT_ENGINE, plan)


def log_for(path: Path, profile: Profile, loadout: str | None, maps: Collection[str]) -> LogReader:
    """The log, ready to be read for one loadout of a profile."""
    unused = unused_names(profile, loadout)
    return open_log(path, profile.plan(loadout), parse_mapping(maps), unused)


def play(plan: Plan, engine: Engine, log: LogReader, console: Console, what: str) -> Iterator[Played]:
    """The firmware over the whole log, with a progress bar and then the log's notices."""
    with console.progress(what, 1.0) as meter:
        for played in replay(engine, feed(log.rows(), plan)):
            meter.at(log.progress)
            yield played
    for notice in log.notices:
        console.notice(str(notice))
