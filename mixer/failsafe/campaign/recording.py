"""Scenarios of a campaign set up again, each as inputs that core, replay and bench can run."""

import io
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from mixer.core.layout import layout_of
from mixer.errors import InternalError
from mixer.failsafe.campaign.layers import Batch
from mixer.failsafe.campaign.results import MUST_STOP
from mixer.failsafe.campaign.scene import Scene, Setting
from mixer.failsafe.proof.counter_example import CounterExample, confirmed, unjudged
from mixer.faults.both import fault_named
from mixer.faults.catalogue import catalogue
from mixer.runs.clock import US_PER_MS
from mixer.runs.log.cells import Row
from mixer.runs.log.write import write_log
from mixer.runs.play.start_state import SUFFIX, start_state_text


class Run(NamedTuple):
    """A scenario of a campaign that has something to do with a rule, up to the tick in which it has."""

    rule: str
    fault: str
    lane: int
    tick: int


def counter_examples(setting: Setting, runs: Sequence[Run]) -> Iterator[CounterExample]:
    """The broken scenarios of a campaign's table, each checked against the core."""
    plan = setting.plan
    for run, (state, rows) in zip(runs, recorded(setting, runs), strict=True):
        if run.rule == MUST_STOP:  # judged by the campaign from the commands; no rule has to agree
            yield unjudged(plan, run.rule, state, rows)
            continue
        found = confirmed(plan, run.rule, state, rows)
        if found is None:
            said = f"Scenario {run.lane} of {run.fault} does not break {run.rule} when it is run by itself"
            raise InternalError(said)
        yield found


def witnesses(setting: Setting, runs: Sequence[Run]) -> Iterator[CounterExample]:
    """Runs that reach what a rule is about, up to the tick that does."""
    for run, (state, rows) in zip(runs, recorded(setting, runs), strict=True):
        yield unjudged(setting.plan, run.rule, state, rows)


def recorded(
    setting: Setting, runs: Sequence[Run]
) -> list[tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]]:
    """The watched state in which each board began (last), and the inputs of the ticks it has run since.

    All side by side in one scene: a scenario goes as it would by itself.
    """
    if not runs:
        return []
    known = catalogue(setting.plan)
    batches = [Batch(fault_named(known, run.fault), range(run.lane, run.lane + 2)) for run in runs]
    scene = Scene(setting, batches)
    lanes = [lanes.start for lanes in scene.slices]
    states = [tuple(scene.boards.raw[:, lane].tolist()) for lane in lanes]
    rows: list[list[tuple[int, ...]]] = [[] for _ in runs]
    for tick in range(max(run.tick for run in runs) + 1):
        scene.advance(tick)
        for number, (run, lane) in enumerate(zip(runs, lanes, strict=True)):
            if tick <= run.tick and scene.restarted[lane]:
                states[number], rows[number] = setting.watched.start, []
            if tick <= run.tick and not scene.held_back[lane]:
                rows[number].append(tuple(scene.inputs[:, lane].tolist()))
    return [(state, tuple(row)) for state, row in zip(states, rows, strict=True)]


def files_of(name: str, example: CounterExample) -> dict[str, str]:
    """The counter-example as an ordinary log, with the start state beside it: texts by file name."""
    plan = example.plan
    layout = layout_of(plan)
    channels = [name.partition(".")[2] for name in layout.inputs[: len(plan.channels)]]
    contacts = [name.partition(".")[2] for name in layout.inputs[len(plan.channels) :]]
    rows = [
        Row(
            t_us=number * plan.tick_ms * US_PER_MS,
            pulses=row[: len(plan.channels)],
            contacts=row[len(plan.channels) :],
            volts=None,
            line=number + 2,
        )
        for number, row in enumerate(example.rows)
    ]
    log = io.StringIO(newline="")
    write_log(log, rows, channels, contacts)
    if example.from_power_up:
        return {name: log.getvalue()}
    return {name: log.getvalue(), name + SUFFIX: start_state_text(plan, example.state)}
