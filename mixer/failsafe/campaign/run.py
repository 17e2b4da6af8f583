"""The campaign: every fault at many operating points, judged by the rules, with the plant in the loop.

Scenarios are spread evenly over the faults of the catalogue and cut into chunks that are alike; chunks are
independent and may run in several processes. Everything follows from the seed: the same seed gives the
same scenarios and the same table on any engine, in any number of processes.

Times are fault reaction times in the sense of the machine-safety standards: from the fault's onset to all
outputs at zero. Distances are what the physics lets the robot roll from the onset on; the physics takes a
step every `PLANT_MS`, with the commands' mean since the last.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.core.rest import frame_ticks
from mixer.errors import InternalError
from mixer.failsafe.campaign.layers import Batch
from mixer.failsafe.campaign.points import Timing, hands_rest, pairs_covered, timing_of
from mixer.failsafe.campaign.prefix import prefixes
from mixer.failsafe.campaign.results import CampaignResult, result_of
from mixer.failsafe.campaign.scene import Scene, Setting
from mixer.failsafe.campaign.tally import Notes, Tally, tally_of
from mixer.faults.both import Both, pairs_of
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.live.judge.watched import Watched, watched_graph
from mixer.live.robot.travel import USUAL_TRAVEL_MS
from mixer.plant.at_zero import AtZero, at_zero
from mixer.plant.parts.damage import Damage, Harm, harmed
from mixer.plant.parts.robot import Robot
from mixer.plant.plant import LanePlant
from mixer.system import signals_wait

CHUNK = 12_000
"""Scenarios side by side, at most: some 6 kB each, and a call of numpy costs the less of them."""
WORTH_A_PROCESS = 1000
"""Scenarios for which another process is begun."""
PAIR_LANES = 4
"""Scenarios of each pair of faults; one habit of the operator each, by turns."""
PAIRS_SHARE = 6
"""Of so many scenarios one may go to pairs: enough for every two kinds of a large robot by default."""
PLANT_MS = 10
AT_REST_MPS = 0.005
"""Slower than this with all outputs at zero, it has come to rest; what it does later is a new drive."""
DEFAULT_SCENARIOS = 20_000
DEFAULT_SEED = 1

Progress = Callable[[float], None]
"""Called with the share of the work that is done, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Request:
    """What to run."""

    plan: Plan
    robot: Robot | None = None
    """The physics; None leaves distances out."""
    unsaid_at_zero: tuple[str, ...] = ()
    """Outputs of which nobody says what they do at zero: distances are told both ways."""
    travel_ms: tuple[float, ...] = ()
    """For each actuator the time of its whole travel at full command; empty for the usual one."""
    frame_ms: float = 20.0
    """From one of the receiver's frames to the next."""
    scenarios: int = DEFAULT_SCENARIOS
    seed: int = DEFAULT_SEED
    engine: str = "numpy"
    seconds: float = 3.0
    jobs: int = 0
    """Processes; 0 for as many as there are processors, 1 for none but this one."""


def run_campaign(request: Request, progress: Progress | None = None) -> CampaignResult:
    """Run all scenarios. Raises OptionError for an unknown engine, MissingToolError without a compiler."""
    faults, pairs, possible = faults_of(request)
    jobs = request.jobs or os.cpu_count() or 1
    chunks = _chunks(faults, pairs, request.scenarios, jobs)
    jobs = min(jobs, len(chunks))
    tell = progress or _ignore
    totals = {fault.key: Tally(fault.key) for fault in (*faults, *pairs)}
    found = (
        _in_this_process(request, chunks, tell) if jobs == 1 else _in_several(request, chunks, jobs, tell)
    )
    for tallies in found:
        for tally in tallies:
            totals[tally.key].add(tally)
    seconds = _timing(request).ticks * request.plan.tick_ms / 1000
    each = min(totals[fault.key].scenarios for fault in faults)
    covered = f"{pairs_covered(request.plan, each)}; {_pairs_tried(len(pairs), possible)}"
    rolls = tuple(way.word for way in _ways(request))
    every, tallies = (*faults, *pairs), list(totals.values())
    return result_of(request.plan, every, tallies, request.seed, request.engine, seconds, covered, rolls)


def _pairs_tried(tried: int, possible: int) -> str:
    """How many pairs of faults were tried, of those that can be together, and what tries the rest."""
    words = (
        f"two faults at once: {tried} of the {possible} pairs of kinds that can be, {PAIR_LANES} runs each"
    )
    if tried == possible:
        return words
    return f"{words} (--scenarios {possible * PAIR_LANES * PAIRS_SHARE} tries all)"


def faults_of(request: Request) -> tuple[tuple[Fault, ...], tuple[Fault, ...], int]:
    """Every fault by itself, as many pairs as their share of scenarios allows, and how many there are."""
    faults = catalogue(request.plan)
    return (faults, *pairs_of(faults, request.scenarios // PAIRS_SHARE // PAIR_LANES, request.seed))


def setting_of(request: Request) -> Setting:
    """What all scenes of this request share; traces the watched tick."""
    plan = request.plan
    watched = watched_graph(plan)
    travel = request.travel_ms or (USUAL_TRAVEL_MS,) * len(plan.actuators)
    timing = _timing(request)
    ways = prefixes(watched, timing.frame)
    return Setting(_slim(watched), ways, timing, request.seed, request.engine, travel)


def _timing(request: Request) -> Timing:
    return timing_of(request.plan, request.seconds, frame_ticks(request.plan, request.frame_ms))


def _slim(watched: Watched) -> Watched:
    outputs = [output.command for output in layout_of(watched.plan).names.outputs]
    return watched.only([*outputs, "broken", "reached", "moving", "live"])


def _ignore(share: float) -> None:
    del share


def _tell_part(tell: Progress, number: int, parts: int, share: float) -> None:
    tell((number + share) / parts)


def _chunks(
    faults: Sequence[Fault], pairs: Sequence[Fault], scenarios: int, jobs: int = 1
) -> list[list[Batch]]:
    """At least as many scenarios as asked for, as many of each fault, in chunks of one size.

    Pairs cost more than faults alone, so they lie evenly among them and every chunk takes as long. There is
    a chunk for each process, if that is worth one, and none has more lanes than `CHUNK`.
    """
    each = max(-(-(scenarios - PAIR_LANES * len(pairs)) // len(faults)), 2)
    wanted = [((at + 0.5) / len(faults), Batch(fault, range(each))) for at, fault in enumerate(faults)]
    wanted += [
        ((at + 0.5) / len(pairs), Batch(pair, range(PAIR_LANES * at, PAIR_LANES * (at + 1))))
        for at, pair in enumerate(pairs)
    ]
    total = each * len(faults) + PAIR_LANES * len(pairs)
    count = max(min(jobs, total // WORTH_A_PROCESS), -(-total // CHUNK))
    ends = [total * (number + 1) // count for number in range(count)]
    return _cut([batch for _, batch in sorted(wanted, key=itemgetter(0))], ends)


def _cut(batches: Sequence[Batch], ends: Sequence[int]) -> list[list[Batch]]:
    """The same lanes in chunks that end after so many."""
    chunks: list[list[Batch]] = [[]]
    done = 0
    for batch in batches:
        left = batch.lanes
        while left:
            room = ends[len(chunks) - 1] - done
            lanes, left = left[:room], left[room:]
            chunks[-1].append(Batch(batch.fault, lanes))
            done += len(lanes)
            if len(lanes) == room and done < ends[-1]:
                chunks.append([])
    return chunks


def _in_this_process(
    request: Request, chunks: Sequence[list[Batch]], tell: Progress
) -> Iterator[list[Tally]]:
    setting = setting_of(request)
    for number, chunk in enumerate(chunks):
        yield run_chunk(request, setting, chunk, partial(_tell_part, tell, number, len(chunks)))


def _in_several(
    request: Request, chunks: Sequence[list[Batch]], jobs: int, tell: Progress
) -> Iterator[list[Tally]]:
    """Spread over processes; the order in which they finish does not matter to a tally.

    Each has its share of the chunks and a pipe to tell through, and no more: whatever ends this process or
    the wait for them ends them at once, with no queue, lock or thread left to tidy.
    """
    context = multiprocessing.get_context("spawn")
    workers: dict[Connection, SpawnProcess] = {}
    try:
        with signals_wait():
            for number in range(jobs):
                here, there = context.Pipe(duplex=False)
                worker = context.Process(target=_work, args=(request, chunks[number::jobs], there))
                worker.start()
                there.close()
                workers[here] = worker
        done = 0
        while workers:
            ready = wait(list(workers))
            for pipe in [each for each in workers if each in ready]:
                tallies = _received(pipe)
                if tallies is None:
                    workers.pop(pipe).join()
                    continue
                done += 1
                tell(done / len(chunks))
                yield tallies
    finally:
        for worker in workers.values():
            worker.kill()
            worker.join()


def _received(pipe: Connection) -> list[Tally] | None:
    """A chunk's tallies, None after the last. Raises what the worker raised."""
    try:
        found: list[Tally] | Exception | None = pipe.recv()
    except EOFError:
        raise InternalError("A process of the campaign died; is there too little memory?") from None
    if isinstance(found, Exception):
        raise found
    return found


def _work(request: Request, chunks: Sequence[Sequence[Batch]], pipe: Connection) -> None:
    """A worker: it leaves signals to the process that began it, and ends with it, however that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()
    try:
        setting = setting_of(request)
        for chunk in chunks:
            pipe.send(run_chunk(request, setting, chunk))
        pipe.send(None)
    except Exception as error:
        pipe.send(error)


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def run_chunk(
    request: Request, setting: Setting, batches: Sequence[Batch], tell: Progress | None = None
) -> list[Tally]:
    """All ticks of some scenarios."""
    scene = Scene(setting, batches)
    notes = Notes(scene)
    rolling = [_Rolling(way.robot, scene) for way in _ways(request)]
    ticks = setting.timing.ticks
    for tick in range(ticks):
        scene.advance(tick)
        notes.take(tick)
        for way in rolling:
            way.take()
        if tell is not None and tick % 64 == 0:
            tell(tick / ticks)
    return tally_of(scene, notes, [way.distance for way in rolling])


def _ways(request: Request) -> Sequence[AtZero]:
    return () if request.robot is None else at_zero(request.robot, request.unsaid_at_zero)


def _is_measured(fault: Fault) -> bool:
    """Whether its ways to a stop are measured: where firmware sees it, and nothing drives on by itself."""
    return fault.must_stop and not fault.runs_away


def _goes_on_alone(fault: Fault) -> bool:
    """Whether something drives on by itself, and that is all that is wrong."""
    return fault.runs_away and not isinstance(fault, Both)


class _Rolling:
    """The physics of a scene: how far each robot comes from the onset on.

    Stepped only in the lanes whose distance is asked for, each until it has come to rest. Where something
    drives on by itself, what counts is the way with every output told zero, where hands see to that.
    """

    def __init__(self, robot: Robot, scene: Scene) -> None:
        self._scene = scene
        lanes = [len(batch.lanes) for batch in scene.batches]
        faults = [batch.fault for batch in scene.batches]
        stops, alone = [
            np.repeat([bool(ask(fault)) for fault in faults], lanes)
            for ask in (_is_measured, _goes_on_alone)
        ]
        self._asked = np.flatnonzero(stops | (alone & hands_rest(scene.points)))
        of = np.repeat(np.arange(len(faults)), lanes)[self._asked]
        self._broken: list[tuple[Robot, NDArray[np.bool_]]] = []
        self._stuck: list[tuple[int, NDArray[np.bool_]]] = []
        for number in np.unique(of):
            self._break(robot, faults[number].damage, of == number)
        self._plant = LanePlant(
            robot, len(self._asked), wanted=("vx", "vy"), native=scene.setting.engine == "native"
        )
        tick_ms = scene.setting.plan.tick_ms
        self._every = max(PLANT_MS // tick_ms, 1)
        self._seconds = self._every * tick_ms / 1000
        self._sum = np.zeros_like(scene.commands)
        self._ticks = 0
        self.distance = np.zeros(scene.lanes)
        """(lanes,): in m; 0 where it is not asked for."""
        self._came_to_rest = np.zeros(len(self._asked), np.bool_)
        self._runs_away = np.array([fault.runs_away for fault in faults])[of]

    def _break(self, robot: Robot, damage: Sequence[Damage], lanes: NDArray[np.bool_]) -> None:
        """Keep what breaks in these lanes; a controller stuck on, or a screw, needs no body of its own."""
        names, apart = [output.name for output in robot.outputs], (Harm.STUCK_ON, Harm.JAMMED, Harm.AHEAD)
        self._stuck += [(names.index(name), lanes) for harm, name in damage if harm is Harm.STUCK_ON]
        body = harmed(robot, [item for item in damage if item.harm not in apart])
        if body != robot:
            self._broken.append((body, lanes))

    def take(self) -> None:
        """Add a tick; step the physics when enough have come together."""
        if not len(self._asked):
            return
        self._sum += self._scene.commands
        self._ticks += 1
        if self._ticks % self._every:
            return
        asked = self._asked
        since = self._scene.since.take(asked)
        begun = since >= 0
        duties = self._sum.take(asked, axis=1) * (1 / (ONE * self._every))
        for output, lanes in self._stuck:
            duties[output, lanes & begun] = 1.0
        fresh = begun & (since < self._every)
        for body, lanes in self._broken if fresh.any() else ():
            self._plant.become(body, lanes & fresh)
        self._plant.run_duties(list(duties), self._seconds)
        self._sum[:] = 0
        speed = np.hypot(self._plant.value("vx"), self._plant.value("vy"))
        resting = begun & ~self._scene.moving.take(asked)
        self._came_to_rest |= resting & (speed < AT_REST_MPS) & ~self._runs_away
        self._plant.leave(self._came_to_rest)
        counts = np.where(self._runs_away, resting, begun & ~self._came_to_rest)
        self.distance[asked] += np.where(counts, speed * self._seconds, 0.0)
