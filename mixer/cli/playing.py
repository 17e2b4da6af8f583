"""A log played through a profile's firmware, as `replay`, `compare` and `size` do it."""

import argparse
from collections.abc import Iterator

from mixer.cli.console import Console
from mixer.profile import Profile
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.play.engines import DEFAULT_ENGINE
from mixer.runs.play.replay import LogReplay, Played
from mixer.runs.play.start_state import read_start_state, start_state_path


def log_replay(args: argparse.Namespace, profile: Profile, loadout: str | None) -> LogReplay:
    """The command line's log through one loadout of a profile, in the engine it names."""
    return LogReplay(
        profile.plan(loadout),
        args.log,
        engine=getattr(args, "engine", None) or DEFAULT_ENGINE,
        mapping=parse_mapping(args.map),
        unused=profile.unused(loadout),
    )


def play(log: LogReplay, console: Console, what: str) -> Iterator[Played]:
    """The firmware over the whole log, with a progress bar and then the log's notices.

    Begins at power-up, or in the state that stands beside the log.
    """
    state = read_start_state(log.path, log.plan)
    if state is not None:
        console.notice(f"begins in the state of {start_state_path(log.path).name}")
    with console.progress(what, 1.0) as meter:
        for played in log.plays(state):
            meter.at(log.progress)
            yield played
    tell_notices(log, console)


def tell_notices(log: LogReplay, console: Console) -> None:
    """What was put right in the log."""
    for notice in log.notices:
        console.notice(str(notice))
