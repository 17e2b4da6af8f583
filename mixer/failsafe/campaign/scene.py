"""One batch of scenarios on its way through time: what the boards read, what they do, what moves.

A scene holds lanes of several faults, each fault's lanes side by side. It knows the clean inputs, lets each
fault change those of its own lanes, runs the boards, and moves the actuators. What is worth keeping of a
scenario is the business of `tally`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.failsafe.campaign.lanes import Scenarios, make_scenarios
from mixer.failsafe.campaign.points import Points, Positions, Timing, clean_level, points_for
from mixer.failsafe.campaign.prefix import Prefix
from mixer.faults.fault import At, Fault, Flags, Ints, Received
from mixer.live.judge.watched import Watched
from mixer.live.robot.travel import driven, moved, pressed
from mixer.plant.parts.damage import SKIPPED, deaf_to, skips

Moments = dict[int, At]
"""Where the scenarios of each batch stand in this tick, by the batch's number."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Scenarios of one fault: which of its lanes."""

    fault: Fault
    lanes: range


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
        self._parts = [_part(self.points, lanes) for lanes in self.slices]
        self._changing = _changing(batches)
        self._changed = sorted(set().union(*self._changing.values()))
        self._between = _between(batches, self._changing)
        self._hurt = [number for number, batch in enumerate(batches) if batch.fault.damage]
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
        """Where the board began anew in this tick."""
        self.held_back: Flags = np.zeros(self.lanes, np.bool_)
        """Where the firmware did not run in this tick."""
        self._pending: Ints = np.zeros((len(plan.channels), self.lanes), np.int32)
        self.position = self.points.position.copy()
        self._deaf = [_deaf(plan, batch.fault) for batch in batches]
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
        held = self._faulty(tick) if tick >= self.setting.timing.earliest else []
        signals = self.boards.step(self.inputs)
        commands = signals[self._command_rows]
        self.broken = signals[self._rows["broken"]].copy()
        self.reached = signals[self._rows["reached"]]
        self.moving = signals[self._rows["moving"]] > 0
        kept, was_live = self.commands, self.live
        self.live = signals[self._rows["live"]] > 0
        self.commands = commands.copy()
        for lanes, state in held:
            self.boards.raw[:, lanes] = state
            self.commands[:, lanes] = kept[:, lanes]
            self.broken[lanes] = 0
            self.moving[lanes] = (kept[:, lanes] != 0).any(axis=0)
            self.live[lanes] = was_live[lanes]
        self._move_actuators()

    def _move_actuators(self) -> None:
        """Each by what it is told, or by what a fault makes of it."""
        for number, travel_ms in enumerate(self.setting.travel_ms):
            self._skip(number)
            here, duty = self.position[number], self._duty(number)
            self.position[number] = driven(here, duty, self.setting.plan.tick_ms / 1000, travel_ms)
        self._at_ends()

    def _skip(self, actuator: int) -> None:
        """Let an actuator jump ahead where a fault says so."""
        name, place = self.setting.plan.actuators[actuator].name, self.position[actuator]
        for number in self._hurt:
            lanes = self.slices[number]
            if skips(self.batches[number].fault.damage, name):
                place[lanes] = moved(place[lanes], np.where(self.since[lanes] == 0, SKIPPED, 0.0))

    def _duty(self, actuator: int) -> Positions:
        """(lanes,): what moves an actuator: its command, or what a broken part makes of it."""
        duty: Positions = self.commands[self.setting.plan.actuators[actuator].output] / ONE
        for number in self._hurt:
            lanes, stuck = self.slices[number], self._deaf[number][actuator]
            if stuck is not None:
                duty[lanes] = np.where(self.since[lanes] >= 0, stuck, duty[lanes])
        return duty

    def _clean(self, tick: int) -> None:
        """The inputs with nothing wrong with them."""
        count, timing = len(self.setting.plan.channels), self.setting.timing
        due = tick % timing.frame == 0
        if due:
            self._level = clean_level(self.points, timing, self.since)
        self.inputs[:count] = self._level if due else 0
        self.inputs[count:] = self._clean_contacts

    def _faulty(self, tick: int) -> list[tuple[NDArray[np.intp], Ints]]:
        """Let every fault change what is its own; the lanes that do not run now, with their state."""
        due = tick % self.setting.timing.frame == 0
        moments = {number: self._at(tick, number) for number in (self._changed if due else self._between)}
        self._receive(moments)
        self._read(moments)
        self._reset(moments)
        return self._missed(moments)

    def _at(self, tick: int, number: int) -> At:
        frame, lanes, points = self.setting.timing.frame, self.slices[number], self._parts[number]
        return At(
            self.setting.plan, tick, self.since[lanes], points.seed, frame, tick % frame,
            points.pushed, self.commands[:, lanes],
        )  # fmt: skip

    def _receive(self, moments: Moments) -> None:
        count = len(self.setting.plan.channels)
        for number in self._changing["receive"]:
            if number not in moments:
                continue
            fault, at = self.batches[number].fault, moments[number]
            due = at.in_frame == 0
            if not (due or fault.any_tick):
                continue
            level = self._level[:, self.slices[number]]
            received = fault.receive(Received(level, np.full(level.shape, due)), at)
            self.inputs[:count, self.slices[number]] = np.where(received.arrives, received.level, 0)

    def _read(self, moments: Moments) -> None:
        first = len(self.setting.plan.channels)
        for number in self._changing["read"]:
            contacts = self.inputs[first:, self.slices[number]]
            contacts[:] = self.batches[number].fault.read(contacts, moments[number])

    def _at_ends(self) -> None:
        """What the end stops would read with nothing wrong with them."""
        plan = self.setting.plan
        clean = self.points.contacts.copy()
        for number, actuator in enumerate(plan.actuators):
            for contact, closed in pressed(actuator, self.position[number]):
                levels = [plan.contacts[contact].level(closed=state) for state in (False, True)]
                clean[contact] = np.where(closed, levels[1], levels[0])
        self._clean_contacts = clean

    def _reset(self, moments: Moments) -> None:
        self.restarted[:] = False
        for number in self._changing["resets"]:
            mask = self.batches[number].fault.resets(moments[number])
            if mask is not None and mask.any():
                lanes = self.slices[number]
                np.copyto(self.boards.raw[:, lanes], self._start, where=mask)
                self.restarted[lanes] = mask

    def _missed(self, moments: Moments) -> list[tuple[NDArray[np.intp], Ints]]:
        """Lanes that do not run now, with their state; what arrives meanwhile waits for them."""
        held: list[tuple[NDArray[np.intp], Ints]] = []
        self.held_back[:] = False
        count = len(self.setting.plan.channels)
        for number in self._changing["misses"]:
            mask, lanes = self.batches[number].fault.misses(moments[number]), self.slices[number]
            if mask is None:
                continue
            pulses, waiting = self.inputs[:count, lanes], self._pending[:, lanes]
            latest = np.where(pulses > 0, pulses, waiting)
            self._pending[:, lanes] = np.where(mask, latest, 0)
            self.inputs[:count, lanes] = latest
            self.held_back[lanes] = mask
            missing = np.flatnonzero(mask) + lanes.start
            if len(missing):
                held.append((missing, self.boards.raw[:, missing].copy()))
        return held


def _points(setting: Setting, batch: Batch) -> Points:
    return points_for(setting.plan, batch.fault, setting.ways, setting.timing, setting.seed, batch.lanes)


def _deaf(plan: Plan, fault: Fault) -> list[float | None]:
    """For each actuator the duty that moves it whatever it is told; None where it listens."""
    outputs = [plan.outputs[actuator.output].name for actuator in plan.actuators]
    pairs = zip(outputs, plan.actuators, strict=True)
    return [deaf_to(fault.damage, output, actuator.name) for output, actuator in pairs]


def _between(batches: Sequence[Batch], changing: Mapping[str, Sequence[int]]) -> list[int]:
    """Batches whose fault may change something between two frames."""
    often = {number for what in ("read", "resets", "misses") for number in changing[what]}
    return sorted(often | {number for number in changing["receive"] if batches[number].fault.any_tick})


def _changing(batches: Sequence[Batch]) -> dict[str, list[int]]:
    """Which batches' faults change something, by what they change."""
    return {
        what: [number for number, batch in enumerate(batches) if batch.fault.changes(what)]
        for what in ("receive", "read", "resets", "misses")
    }


def _slices(batches: Sequence[Batch]) -> list[slice]:
    ends = np.cumsum([len(batch.lanes) for batch in batches]).tolist()
    return [slice(end - len(batch.lanes), end) for batch, end in zip(batches, ends, strict=True)]


def _arrays(points: Points, change: Callable[[str], NDArray[np.generic]]) -> Points:
    names = [item.name for item in fields(points) if item.name != "arm_channels"]
    return Points(**{name: change(name) for name in names}, arm_channels=points.arm_channels)  # type: ignore[arg-type]


def _joined(parts: Sequence[Points]) -> Points:
    """The points of several batches side by side."""
    return _arrays(parts[0], lambda name: np.concatenate([getattr(part, name) for part in parts], axis=-1))


def _part(points: Points, lanes: slice) -> Points:
    """Some of the lanes."""
    return _arrays(points, lambda name: getattr(points, name)[..., lanes])
