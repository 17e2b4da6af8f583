"""One scenario of a campaign set up again by itself, as inputs that core, replay and bench can run."""

import io

from mixer.core.layout import layout_of
from mixer.errors import InternalError
from mixer.failsafe.campaign.results import MUST_STOP, Witness
from mixer.failsafe.campaign.scene import Batch, Scene, Setting
from mixer.failsafe.proof.counter_example import CounterExample, confirmed, unjudged
from mixer.faults.both import fault_named
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.runs.clock import US_PER_MS
from mixer.runs.log.cells import Row
from mixer.runs.log.write import write_log
from mixer.runs.play.start_state import SUFFIX, start_state_text


def counter_example_of(setting: Setting, fault_key: str, rule: str, lane: int, tick: int) -> CounterExample:
    """The broken scenario of a campaign's table, checked against the core."""
    plan = setting.plan
    fault = fault_named(catalogue(plan), fault_key)
    state, rows = recorded(setting, fault, lane, tick + 1)
    if rule == MUST_STOP:  # judged by the campaign from the commands; no rule has to agree
        return unjudged(plan, rule, state, rows)
    found = confirmed(plan, rule, state, rows)
    if found is None:
        raise InternalError(
            f"Scenario {lane} of {fault_key} does not break {rule} when it is run by itself"
        )
    return found


def witness_of(setting: Setting, witness: Witness) -> CounterExample:
    """A run that reaches what a rule is about, up to the tick that does."""
    plan = setting.plan
    fault = fault_named(catalogue(plan), witness.fault)
    state, rows = recorded(setting, fault, witness.lane, witness.tick + 1)
    return unjudged(plan, witness.rule, state, rows)


def recorded(
    setting: Setting, fault: Fault, lane: int, ticks: int
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
    """The watched state in which the board began (last), and the inputs of the ticks it has run since."""
    scene = Scene(setting, [Batch(fault, range(lane, lane + 2))])
    state = tuple(scene.boards.raw[:, 0].tolist())
    rows: list[tuple[int, ...]] = []
    for tick in range(ticks):
        scene.advance(tick)
        if scene.restarted[0]:
            state, rows = setting.watched.start, []
        if not scene.held_back[0]:
            rows.append(tuple(scene.inputs[:, 0].tolist()))
    return state, tuple(rows)


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
