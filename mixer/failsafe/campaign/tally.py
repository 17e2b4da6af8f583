"""What a campaign keeps of its scenarios: times, distances, broken rules, a worst example of each."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from mixer.core.plan import Plan
from mixer.failsafe.campaign.scene import Batch, Scene
from mixer.faults.fault import Flags, Ints
from mixer.laws.expect import loss_ticks

SLACK_TICKS = 2
"""Ticks beyond the promise before a robot counts as still moving: a pulse waits for its tick."""


@dataclass
class Tally:
    """Of one fault, over all lanes seen so far."""

    key: str
    scenarios: int = 0
    moving: int = 0
    """Scenarios in which something moved when the fault set in."""
    neutral_ticks: int | None = None
    """The longest from onset to all outputs at zero."""
    neutral_lane: int = -1
    distance_m: float | None = None
    distance_lane: int = -1
    kept_moving: int = 0
    """Scenarios without a radio in which something moved beyond the promised time."""
    broken: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    """Rule number -> how many scenarios, the first lane and its tick."""

    def add(self, other: "Tally") -> None:
        """Take in what another chunk found."""
        self.scenarios += other.scenarios
        self.moving += other.moving
        self.kept_moving += other.kept_moving
        if other.neutral_ticks is not None and (
            self.neutral_ticks is None or other.neutral_ticks > self.neutral_ticks
        ):
            self.neutral_ticks, self.neutral_lane = other.neutral_ticks, other.neutral_lane
        if other.distance_m is not None and (self.distance_m is None or other.distance_m > self.distance_m):
            self.distance_m, self.distance_lane = other.distance_m, other.distance_lane
        for number, (count, lane, tick) in other.broken.items():
            mine = self.broken.get(number)
            self.broken[number] = (
                (count, lane, tick) if mine is None else (mine[0] + count, mine[1], mine[2])
            )


class Notes:
    """Taken tick by tick for all lanes of a scene."""

    def __init__(self, scene: Scene) -> None:
        lanes = scene.lanes
        self.last_moving: Ints = np.full(lanes, -1, np.int32)
        self.first_rest: Ints = np.full(lanes, -1, np.int32)
        self.moved_at_onset: Flags = np.zeros(lanes, np.bool_)
        self.broken: Ints = np.zeros(lanes, np.int32)
        self.first_broken: dict[int, tuple[int, int]] = {}
        self._scene = scene

    def take(self, tick: int) -> None:
        """Look at the scene after a tick."""
        scene = self._scene
        since, moving = scene.since, scene.moving
        np.copyto(self.last_moving, since, where=moving & (since >= 0))
        self.moved_at_onset |= moving & (since == -1)
        resting = (self.first_rest < 0) & (since >= 0) & ~moving
        np.copyto(self.first_rest, since, where=resting)
        if scene.broken.any():
            self._note_broken(tick)

    def _note_broken(self, tick: int) -> None:
        fresh = self._scene.broken & ~self.broken
        self.broken |= self._scene.broken
        for lane in np.flatnonzero(fresh):
            for number in range(int(fresh[lane]).bit_length()):
                if fresh[lane] >> number & 1:
                    batch = _batch_of(self._scene, int(lane))
                    self.first_broken.setdefault(batch * 64 + number, (int(lane), tick))


def _batch_of(scene: Scene, lane: int) -> int:
    return next(k for k, part in enumerate(scene.slices) if part.start <= lane < part.stop)


def tally_of(scene: Scene, notes: Notes, distance: NDArray[np.float64] | None) -> list[Tally]:
    """One tally a batch."""
    return [
        _tally(scene.setting.plan, number, batch, part, notes, distance)
        for number, (batch, part) in enumerate(zip(scene.batches, scene.slices, strict=True))
    ]


def _tally(
    plan: Plan, number: int, batch: Batch, part: slice, notes: Notes, distance: NDArray[np.float64] | None
) -> Tally:
    found = Tally(batch.fault.key, len(batch.lanes), int(notes.moved_at_onset[part].sum()))
    _note_rules(found, number, batch, part, notes)
    resets = batch.fault.key.startswith("reset")
    if not (batch.fault.radio_gone or resets):
        return found
    last = notes.last_moving[part] + 1 if batch.fault.radio_gone else notes.first_rest[part]
    if batch.fault.radio_gone:
        late = notes.last_moving[part] > loss_ticks(plan) + SLACK_TICKS
        found.kept_moving = int(late.sum())
    if not found.kept_moving:
        found.neutral_ticks, found.neutral_lane = int(last.max()), batch.lanes[int(last.argmax())]
        if distance is not None:
            rolled = distance[part]
            found.distance_m, found.distance_lane = float(rolled.max()), batch.lanes[int(rolled.argmax())]
    return found


def _note_rules(found: Tally, number: int, batch: Batch, part: slice, notes: Notes) -> None:
    masks = notes.broken[part]
    for rule in range(int(masks.max(initial=0)).bit_length()):
        count = int((masks >> rule & 1).sum())
        if count:
            lane, tick = notes.first_broken[number * 64 + rule]
            found.broken[rule] = (count, batch.lanes[lane - part.start], tick)
