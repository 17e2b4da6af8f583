"""What a campaign keeps of its scenarios: times, distances, broken rules, a worst example of each."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from mixer.core.plan import Plan
from mixer.failsafe.campaign.layers import Batch
from mixer.failsafe.campaign.points import hands_disarm
from mixer.failsafe.campaign.scene import Scene
from mixer.faults.fault import Fault, Flags, Ints
from mixer.laws.expect import loss_ticks

SLACK_TICKS = 2
"""Ticks beyond the promise before a robot counts as still moving: a pulse waits for its tick."""


@dataclass(frozen=True, slots=True)
class Stopped:
    """How many scenarios stopped by themselves."""

    driven: int = 0
    """Live when the fault set in, and disarmed by no hand after it."""
    stopped: int = 0
    """Of these, live no more at some time all the same ..."""
    to_the_end: int = 0
    """... and still not at the end."""

    def plus(self, other: "Stopped") -> "Stopped":
        """Of both together."""
        to_the_end = self.to_the_end + other.to_the_end
        return Stopped(self.driven + other.driven, self.stopped + other.stopped, to_the_end)


NEVER = Stopped()


@dataclass
class Tally:
    """Of one fault, over all lanes seen so far."""

    key: str
    scenarios: int = 0
    moving: int = 0
    """Scenarios in which something moved when the fault set in."""
    by_itself: Stopped = NEVER
    neutral_ticks: int | None = None
    """The longest from onset to all outputs at zero."""
    neutral_lane: int = -1
    rolled: tuple[tuple[float, int], ...] = ()
    """The longest way and its lane, for each thing the controllers may do at zero."""
    away_m: float | None = None
    """The longest way with every output told zero, where something drives on by itself."""
    kept_moving: int = 0
    """Scenarios without a radio in which something moved beyond the promised time."""
    late: tuple[int, int] = (-1, -1)
    """The first of them, and a tick in which it still moved."""
    broken: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    """Rule number -> how many scenarios, the first lane and its tick."""
    reached: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    """The same of scenarios in which the rule had something to say."""

    def add(self, other: "Tally") -> None:
        """Take in what another chunk found."""
        self.scenarios += other.scenarios
        self.moving += other.moving
        self.by_itself = self.by_itself.plus(other.by_itself)
        self.kept_moving += other.kept_moving
        times = ((tally.neutral_ticks, tally.neutral_lane) for tally in (self, other))
        longest = max(
            ((ticks, lane) for ticks, lane in times if ticks is not None), key=_most, default=None
        )
        if longest is not None:
            self.neutral_ticks, self.neutral_lane = longest
        pairs = zip(self.rolled, other.rolled, strict=True) if self.rolled and other.rolled else ()
        longer = tuple(max(pair, key=_most) for pair in pairs)
        self.rolled = longer or self.rolled or other.rolled
        self.away_m = max((way for way in (self.away_m, other.away_m) if way is not None), default=None)
        self.late = min((late for late in (self.late, other.late) if late[0] >= 0), default=self.late)
        _add_counts(self.broken, other.broken)
        _add_counts(self.reached, other.reached)


Counts = dict[int, tuple[int, int, int]]


def _most(found: tuple[float, int]) -> tuple[float, int]:
    """Orders by size, and what is as large by the lane, the first one before all others."""
    size, lane = found
    return size, -lane


def _add_counts(mine: Counts, others: Counts) -> None:
    for number, (count, lane, tick) in others.items():
        seen = mine.get(number)
        before = (0, lane, tick) if seen is None else seen
        mine[number] = (before[0] + count, *min(before[1:], (lane, tick), key=_soonest))


def _soonest(first: tuple[int, int]) -> tuple[int, int]:
    """Orders by the tick, and what is in the same tick by the lane, as a chunk notes them."""
    lane, tick = first
    return tick, lane


class Notes:
    """Taken tick by tick for all lanes of a scene."""

    def __init__(self, scene: Scene) -> None:
        lanes = scene.lanes
        self.last_moving: Ints = np.full(lanes, -1, np.int32)
        self.first_rest: Ints = np.full(lanes, -1, np.int32)
        self.moved_at_onset: Flags = np.zeros(lanes, np.bool_)
        self.moved_at_restart: Flags = np.zeros(lanes, np.bool_)
        """Where something moved in the tick before which the fault has the board start anew."""
        self.driven: Flags = np.zeros(lanes, np.bool_)
        """As in `Stopped`."""
        self.stopped: Flags = np.zeros(lanes, np.bool_)
        self.broken: Ints = np.zeros(lanes, np.int32)
        self.reached: Ints = np.zeros(lanes, np.int32)
        self.first_broken: dict[int, tuple[int, int]] = {}
        self.first_reached: dict[int, tuple[int, int]] = {}
        self.onset = scene.points.onset
        self._scene = scene
        faults = [batch.fault for batch in scene.batches]
        sizes = [len(batch.lanes) for batch in scene.batches]
        self._restart = np.repeat([fault.restart_ticks for fault in faults], sizes)
        self._starts = [part.start for part in scene.slices]
        self._undisturbed = ~hands_disarm(scene.points)

    @property
    def live(self) -> Flags:
        """Where the robot is live now."""
        return self._scene.live

    def take(self, tick: int) -> None:
        """Look at the scene after a tick."""
        scene = self._scene
        since, moving = scene.since, scene.moving
        np.copyto(self.last_moving, since, where=moving & (since >= 0))
        self.moved_at_onset |= moving & (since == -1)
        self.moved_at_restart |= moving & (since == self._restart)
        self.driven |= self._undisturbed & scene.live & (since == -1)
        self.stopped |= self.driven & ~scene.live
        resting = (self.first_rest < 0) & (since >= 0) & ~moving
        np.copyto(self.first_rest, since, where=resting)
        if scene.broken.any():
            self._note(scene.broken, self.broken, self.first_broken, tick)
        if (scene.reached & ~self.reached).any():
            self._note(scene.reached, self.reached, self.first_reached, tick)

    def _note(self, now: Ints, known: Ints, first: dict[int, tuple[int, int]], tick: int) -> None:
        """Keep the first lane and tick of each rule's bit, for each batch."""
        fresh = now & ~known
        known |= now
        found = np.bitwise_or.reduceat(fresh, self._starts)
        for batch in np.flatnonzero(found).tolist():
            part, bits = self._scene.slices[batch], int(found[batch])
            for number in range(bits.bit_length()):
                place = batch * 64 + number
                if bits >> number & 1 and place not in first:
                    lane = part.start + int(np.flatnonzero(fresh[part] >> number & 1)[0])
                    first[place] = lane, tick


def tally_of(scene: Scene, notes: Notes, ways: Sequence[NDArray[np.float64]]) -> list[Tally]:
    """One tally a batch."""
    return [
        _tally(scene.setting.plan, number, batch, part, notes, ways)
        for number, (batch, part) in enumerate(zip(scene.batches, scene.slices, strict=True))
    ]


def _tally(
    plan: Plan, number: int, batch: Batch, part: slice, notes: Notes, ways: Sequence[NDArray[np.float64]]
) -> Tally:
    found = Tally(batch.fault.key, len(batch.lanes), int(notes.moved_at_onset[part].sum()))
    stopped = notes.stopped[part]
    kinds = notes.driven[part], stopped, stopped & ~notes.live[part]
    found.by_itself = Stopped(*(int(kind.sum()) for kind in kinds))
    found.broken = _counts(number, batch, part, notes.broken, notes.first_broken)
    found.reached = _counts(number, batch, part, notes.reached, notes.first_reached)
    if batch.fault.runs_away:
        found.away_m, ways = max((float(way[part].max()) for way in ways), default=0.0) or None, ()
    if not batch.fault.ends_driving:
        return found
    last = notes.last_moving[part] + 1 if batch.fault.radio_gone else notes.first_rest[part]
    late = _late(plan, batch.fault, notes, part)
    found.kept_moving = int(late.sum())
    if found.kept_moving:
        first = int(np.flatnonzero(late)[0])
        found.late = batch.lanes[first], int(notes.onset[part][first] + notes.last_moving[part][first])
    if not found.kept_moving:
        found.neutral_ticks, found.neutral_lane = int(last.max()), batch.lanes[int(last.argmax())]
        mine = [way[part] for way in ways if batch.fault.must_stop]
        found.rolled = tuple((float(way.max()), batch.lanes[int(way.argmax())]) for way in mine)
    return found


def _counts(
    number: int, batch: Batch, part: slice, masks: Ints, first: dict[int, tuple[int, int]]
) -> Counts:
    """For each rule's bit how many lanes of the batch have it, and the first of them."""
    found: Counts = {}
    mine = masks[part]
    for rule in range(int(mine.max(initial=0)).bit_length()):
        count = int((mine >> rule & 1).sum())
        if count:
            lane, tick = first[number * 64 + rule]
            found[rule] = count, batch.lanes[lane - part.start], tick
    return found


def _late(plan: Plan, fault: Fault, notes: Notes, part: slice) -> Flags:
    """Where something moved that had to be at zero: beyond the promise, or as the board restarts."""
    if fault.radio_gone:
        most = (loss_ticks(plan) + SLACK_TICKS + fault.grace_ticks) * fault.slows
        late: Flags = notes.last_moving[part] > most
    else:
        late = notes.moved_at_restart[part]
    return late
