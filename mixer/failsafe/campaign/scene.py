"""One batch of scenarios on its way through time: what the boards read, what they do, what moves.

A scene holds lanes of several faults, each fault's lanes side by side. It knows the clean inputs, lets each
fault change those of its own lanes, runs the boards, and moves the actuators. What is worth keeping of a
scenario is the business of `tally`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from mixer.core.late import starts_anew
from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.failsafe.campaign.lanes import Scenarios, make_scenarios
from mixer.failsafe.campaign.layers import Batch, BrokenScrews, Layer, Numbers, layers_of
from mixer.failsafe.campaign.points import Points, Timing, clean_level, points_for
from mixer.failsafe.campaign.prefix import Prefix
from mixer.faults.fault import At, Flags, Ints, Received
from mixer.laws.expect import late_stops
from mixer.live.judge.watched import Watched
from mixer.live.robot.travel import driven, moved, pressed
from mixer.plant.parts.damage import SKIPPED

Number = TypeVar("Number", np.int32, np.bool_)
NOBODY: Numbers = np.array([], np.intp)
"""No lanes."""


@dataclass(frozen=True)
class Setting:
    """What all scenes of a campaign share."""

    watched: Watched
    ways: tuple[Prefix, ...]
    timing: Timing
    seed: int
    engine: str
    travel_ms: tuple[float, ...]
    """For each actuator the time of its whole travel at full command."""

    @property
    def plan(self) -> Plan:
        """The robot."""
        return self.watched.plan


class Scene:
    """The lanes of some batches."""

    def __init__(self, setting: Setting, batches: Sequence[Batch]) -> None:
        self.setting, self.batches = setting, batches
        plan = setting.plan
        self.slices = _slices(batches)
        self.points = _joined([_points(setting, batch) for batch in batches])
        self._changing = _changing(layers_of(batches, self.slices, self.points.seed, self.points.pushed))
        self._may_miss = _all_lanes(self._changing["misses"])
        self._screws = BrokenScrews(plan, batches, self.slices)
        self.lanes = len(self.points.seed)
        self.boards: Scenarios = make_scenarios(setting.engine, setting.watched, self.lanes)
        self._begin()
        self.since: Ints = -self.points.onset
        self.inputs: Ints = np.zeros((len(layout_of(plan).inputs), self.lanes), np.int32)
        self.commands: Ints = np.zeros((len(plan.outputs), self.lanes), np.int32)
        self.broken: Ints = np.zeros(self.lanes, np.int32)
        self.reached: Ints = np.zeros(self.lanes, np.int32)
        self.moving: Flags = np.zeros(self.lanes, np.bool_)
        self.live: Flags = np.zeros(self.lanes, np.bool_)
        self.restarted: Flags = np.zeros(self.lanes, np.bool_)
        """Where the board began anew in this tick, by a reset or since the tick came late."""
        self.held_back: Flags = np.zeros(self.lanes, np.bool_)
        """Where the firmware did not run in this tick."""
        self._behind: Ints = np.zeros(self.lanes, np.int32)
        """Ticks that were due by the board's own clock and not run since it ran last."""
        self._pending: Ints = np.zeros((len(plan.channels), self.lanes), np.int32)
        self.position = self.points.position.copy()
        self._rows = {name: row for row, name in enumerate(self.boards.names)}
        first = self._rows[layout_of(plan).names.outputs[0].command]
        self._command_rows = slice(first, first + len(plan.outputs))
        self._at_ends()

    def _begin(self) -> None:
        """Put every board into the state its prefix leaves."""
        plan, points = self.setting.plan, self.points
        self._start = np.array(self.setting.watched.start, np.int32)[:, None]
        states = np.array([way.state for way in self.setting.ways], np.int32).T
        self.boards.raw[:] = states[:, points.prefix]
        slots, own = self.setting.watched.slots, layout_of(plan).slots.actuators
        for number, actuator in enumerate(plan.actuators):
            if actuator.travel_limit is not None:
                for slot in (own[number].driven, slots.index(f"watch.way.{actuator.name}")):
                    self.boards.raw[slot] = points.way[number]

    def advance(self, tick: int) -> None:
        """Run one tick in every lane."""
        self.since = (tick - self.points.onset).astype(np.int32)
        self._clean(tick)
        held = self._faulty(tick) if tick >= self.setting.timing.earliest else NOBODY
        states = _of(self.boards.raw, held)
        signals = self.boards.step(self.inputs)
        commands = signals[self._command_rows]
        self.broken = signals[self._rows["broken"]].copy()
        self.reached = signals[self._rows["reached"]]
        self.moving = signals[self._rows["moving"]] > 0
        kept, was_live = self.commands, self.live
        self.live = signals[self._rows["live"]] > 0
        self.commands = commands.copy()
        self.boards.raw[:, held] = states
        self.commands[:, held] = still = _of(kept, held)
        self.broken[held] = 0
        self.moving[held] = still.any(axis=0)
        self.live[held] = was_live[held]
        self._move_actuators()

    def _move_actuators(self) -> None:
        """Each by what it is told, or by what a fault makes of it."""
        plan, broken, begun = self.setting.plan, self._screws, self.since >= 0
        for number, travel_ms in enumerate(self.setting.travel_ms):
            told = self.commands[plan.actuators[number].output] / ONE
            duty = np.where(broken.deaf[number] & begun, broken.duty[number], told)
            skipped = np.where(broken.ahead[number] & (self.since == 0), SKIPPED, 0.0)
            here = moved(self.position[number], skipped)
            self.position[number] = driven(here, duty, plan.tick_ms / 1000, travel_ms)
        self._at_ends()

    def _clean(self, tick: int) -> None:
        """The inputs with nothing wrong with them."""
        count, timing = len(self.setting.plan.channels), self.setting.timing
        due = tick % timing.frame == 0
        if due:
            self._level = clean_level(self.points, timing, self.since)
        self.inputs[:count] = self._level if due else 0
        self.inputs[count:] = self._clean_contacts

    def _faulty(self, tick: int) -> Numbers:
        """Let every fault change what is its own; the lanes that do not run now."""
        self._receive(tick)
        self._read(tick)
        self._reset(tick)
        held = self._missed(tick)
        self._come_late()
        return held

    def _at(self, tick: int, layer: Layer) -> At:
        frame, lanes = self.setting.timing.frame, layer.lanes
        return At(
            self.setting.plan, tick, self.since.take(lanes), layer.seed, frame, tick % frame,
            layer.pushed, _of(self.commands, lanes),
        )  # fmt: skip

    def _receive(self, tick: int) -> None:
        due = tick % self.setting.timing.frame == 0
        layers = [layer for layer in self._changing["receive"] if due or layer.any_tick]
        if not layers:
            return
        level, arrives = self._level.copy(), np.full(self._level.shape, due)
        for layer in layers:
            lanes = layer.lanes
            received = layer.fault.receive(
                Received(_of(level, lanes), _of(arrives, lanes)), self._at(tick, layer)
            )
            level[:, lanes], arrives[:, lanes] = received
        self.inputs[: len(level)] = np.where(arrives, level, 0)

    def _read(self, tick: int) -> None:
        contacts = self.inputs[len(self.setting.plan.channels) :]
        for layer in self._changing["read"]:
            clean = _of(contacts, layer.lanes)
            contacts[:, layer.lanes] = layer.fault.read(clean, self._at(tick, layer))

    def _at_ends(self) -> None:
        """What the end stops would read with nothing wrong with them."""
        plan = self.setting.plan
        clean = self.points.contacts.copy()
        for number, actuator in enumerate(plan.actuators):
            for contact, closed in pressed(actuator, self.position[number]):
                levels = [plan.contacts[contact].level(closed=state) for state in (False, True)]
                clean[contact] = np.where(closed, levels[1], levels[0])
        self._clean_contacts = clean

    def _reset(self, tick: int) -> None:
        self.restarted[:] = False
        for layer in self._changing["resets"]:
            mask = layer.fault.resets(self._at(tick, layer))
            if mask is not None:
                self.restarted[layer.lanes] |= mask
        if self.restarted.any():
            self.boards.raw[:, self.restarted] = self._start

    def _come_late(self) -> None:
        """Where a board runs again, firmware and watcher each find by their own account how late it is."""
        late, own = self._behind, len(layout_of(self.setting.plan).state)
        for lane in np.flatnonzero((late > 0) & ~self.held_back).tolist():
            ticks, board = int(late[lane]), self.boards.raw[:, lane]
            if starts_anew(ticks):
                board[:own] = self._start[:own, 0]
                self.restarted[lane] = True
            if late_stops(ticks):
                board[own:] = self._start[own:, 0]
            late[lane] = 0

    def _missed(self, tick: int) -> Numbers:
        """Lanes that do not run now; what arrives meanwhile waits for them."""
        self.held_back[:] = False
        told = np.zeros(self.lanes, np.bool_)
        for layer in self._changing["misses"]:
            mask = layer.fault.misses(self._at(tick, layer))
            if mask is not None:
                self.held_back[layer.lanes] |= mask
                told[layer.lanes] |= mask & (not layer.fault.mismeasures)
        self._behind += told
        lanes, count = self._may_miss, len(self.setting.plan.channels)
        pulses, missing = _of(self.inputs[:count], lanes), self.held_back.take(lanes)
        latest = np.where(pulses > 0, pulses, _of(self._pending, lanes))
        self._pending[:, lanes] = np.where(missing, latest, 0)
        self.inputs[:count, lanes] = latest
        return lanes[missing]


def _of(rows: NDArray[Number], lanes: Numbers) -> NDArray[Number]:
    """(rows, lanes): a copy of what some lanes have; indexing takes five times as long."""
    return rows.take(lanes, axis=1)


def _points(setting: Setting, batch: Batch) -> Points:
    return points_for(setting.plan, batch.fault, setting.ways, setting.timing, setting.seed, batch.lanes)


def _changing(layers: Sequence[Layer]) -> dict[str, list[Layer]]:
    """The faults that change something, by what they change."""
    return {
        what: [layer for layer in layers if layer.fault.changes(what)]
        for what in ("receive", "read", "resets", "misses")
    }


def _all_lanes(layers: Sequence[Layer]) -> Numbers:
    return np.unique(np.concatenate([NOBODY, *(layer.lanes for layer in layers)]))


def _slices(batches: Sequence[Batch]) -> list[slice]:
    ends = np.cumsum([len(batch.lanes) for batch in batches]).tolist()
    return [slice(end - len(batch.lanes), end) for batch, end in zip(batches, ends, strict=True)]


def _joined(parts: Sequence[Points]) -> Points:
    """The points of several batches side by side."""
    names = [item.name for item in fields(Points) if item.name != "arm_channels"]
    rows = {name: np.concatenate([getattr(part, name) for part in parts], axis=-1) for name in names}
    return Points(**rows, arm_channels=parts[0].arm_channels)
