"""What happens outside the board in each scenario, tick by tick: the campaign's faults at its points.

The campaign's scene runs all scenarios side by side on the model, which presses the end stops; what it
would put on the wires is written down before any board has read it. A board's clock and its hangs are no
matter of the wires: they are left to whoever plays the script.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.failsafe.campaign.layers import Batch, Numbers
from mixer.failsafe.campaign.points import Habit
from mixer.failsafe.campaign.run import Request, setting_of
from mixer.failsafe.campaign.scene import Scene, Setting
from mixer.failsafe.pins.trains import TrainFault, in_a_train, train_faults
from mixer.failsafe.pins.wires.onto import Spoiled, whole
from mixer.failsafe.pins.wires.outside import Outside
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault, Flags, Ints
from mixer.faults.power import Hang, WrongClock

ALWAYS = ("none", "all-lost", "power-up", "reset", "overrun.once", "hang", "train.merged", "train.no-gap")
"""Keys of the faults that are tried however few scenarios there are."""
Act = Callable[[Outside], None]
TRIED = 8
"""Scenarios of a fault in which to look for one that moves."""
ROUND = 4 * len(Habit)
"""Scenarios after which habits and states of the guard come round; 7 of them are as good as one more."""


@dataclass(frozen=True, eq=False)
class Script:
    """One scenario."""

    fault: Fault
    lane: int
    guard: Guard
    """Where the guard stands as the scenario begins."""
    prefix: int
    """Ticks from the board's first one until the scenario begins, healthy ones."""
    onset: int
    """Tick of the fault's onset, counted from the board's first one."""
    pulses: NDArray[np.int32]
    """(ticks, channels): the pulse that ends in each tick, in µs; 0 for none."""
    contacts: NDArray[np.int32]
    """(ticks, contacts): levels."""
    resets: Flags
    """(ticks,): where the board is reset from outside."""
    held: Flags
    """(ticks,): where its program does not get to run."""
    hangs: bool
    """Whether the program stands still from the onset on, until its watchdog bites."""
    clock: float
    """The board's clock from the onset on, as a multiple of what it is taken for."""
    moving: bool
    """Whether the model moved anything just before the onset."""
    acts: tuple[tuple[int, Act], ...] = ()
    """What else is done to the chip, each before a tick; -1: at its reset."""
    spoiled: Spoiled = whole
    """What becomes of the trains on a pulse-sum wire from the onset on."""
    may_stray: bool = False
    """Whether the program may go where a simulated chip does not follow it: the script ends there."""

    @property
    def habit(self) -> Habit:
        """What the hands do."""
        return Habit(self.lane % len(Habit))


def at_pins(fault: Fault) -> bool:
    """Whether the fault does anything that reaches the board's pins, or its clock."""
    acts = any(fault.changes(what) for what in ("receive", "read", "resets", "misses"))
    return (acts and not fault.damage) or fault.from_power_up or fault.key == "none"


def faults_at_pins(plan: Plan, train_us: int = 0) -> tuple[Fault, ...]:
    """The campaign's catalogue, less what is broken below the firmware.

    With a pulse-sum wire, and a train on it every `train_us`, what such a wire can have as well. How long a
    hang lasts is the board's own watchdog's business, so there is one.
    """
    found = [fault for fault in catalogue(plan) if at_pins(fault) and not isinstance(fault, Hang)]
    hang = next(fault for fault in catalogue(plan) if isinstance(fault, Hang))
    found.append(replace(hang, key="hang", words="The firmware hangs until the board's watchdog bites."))
    return (*map(in_a_train, found), *train_faults(train_us)) if train_us else tuple(found)


def scripts_of(request: Request, faults: Sequence[Fault]) -> Iterator[Script]:
    """`request.scenarios` of them or a few more, as many of each fault; the same seed gives the same.

    With fewer scenarios than faults, faults here and there go without. In one at least of each fault's
    something moves when it sets in, if in any of some tried for that it does.
    """
    faults = _some(faults, request.scenarios)
    each = -(-request.scenarios // len(faults))
    tried = max(each, TRIED)
    setting = setting_of(request)
    batches = [
        Batch(fault, range(number, number + 1))
        for at, fault in enumerate(faults)
        for number in _numbers(at, tried)
    ]
    beside = [*batches, *batches[: max(2 - len(batches), 0)]]  # arrays have two lanes at least
    scene = _Outside(setting, [Batch(_on_wires(batch.fault), batch.lanes) for batch in beside])
    record = _Record(scene)
    for tick in range(setting.timing.ticks):
        scene.advance(tick)
        record.add(scene)
    moving = [record.moved(scene, lane) for lane in range(len(batches))]
    for first in range(0, len(batches), tried):
        for lane in _chosen(range(first, first + tried), each, moving):
            yield record.script(setting, scene, batches[lane].fault, batches[lane].lanes.start, lane)


def _chosen(lanes: Sequence[int], wanted: int, moving: Sequence[bool]) -> list[int]:
    """The first of them, the last of these for one that moves where none of them does."""
    first = list(lanes[:wanted])
    if not any(moving[lane] for lane in first):
        first[-1:] = [next((lane for lane in lanes if moving[lane]), first[-1])]
    return first


def _some(faults: Sequence[Fault], most: int) -> Sequence[Fault]:
    """So many at most: those that are never left out, and others in even steps."""
    if len(faults) <= most:
        return faults
    first = [fault for fault in faults if fault.key in ALWAYS][:most]
    others = [fault for fault in faults if fault.key not in ALWAYS]
    left = most - len(first)
    return [*first, *(others[at * len(others) // left] for at in range(left))]


def scripts_with(request: Request, key: str) -> Iterator[Script]:
    """Scenarios of one fault, of every habit and every state of the guard."""
    fault = next(fault for fault in catalogue(request.plan) if fault.key == key)
    return scripts_of(replace(request, scenarios=4 * ROUND), [fault])


def _numbers(at: int, each: int) -> Iterator[int]:
    """The numbers of a fault's scenarios: few of them meet other habits, and three of four a live robot."""
    for number in range(each):
        yield (at % 4 + number // ROUND) * ROUND + (5 * at + 7 * number) % ROUND


def _on_wires(fault: Fault) -> Fault:
    """What it does to the wires: a hang or a wrong clock does nothing there."""
    if isinstance(fault, Hang | WrongClock):
        return Fault(fault.key, fault.words)
    return fault


class _Outside(Scene):
    """Keeps what reaches the board before any of it is held back."""

    def __init__(self, setting: Setting, batches: Sequence[Batch]) -> None:
        super().__init__(setting, batches)
        slots, own = setting.watched.slots, layout_of(setting.plan).slots.actuators
        for number, actuator in enumerate(setting.plan.actuators):  # no pin can tell a board this
            if actuator.travel_limit is not None:
                self.boards.raw[own[number].driven] = 0
                self.boards.raw[slots.index(f"watch.way.{actuator.name}")] = 0
        self.arriving: Ints = self.inputs.copy()
        self.reset_now: Flags = self.restarted.copy()

    def _reset(self, tick: int) -> None:
        super()._reset(tick)
        self.reset_now = self.restarted.copy()

    def _missed(self, tick: int) -> Numbers:
        self.arriving = self.inputs.copy()
        return super()._missed(tick)

    def advance(self, tick: int) -> None:
        """As the campaign's; before any fault nothing is held back."""
        super().advance(tick)
        if tick < self.setting.timing.earliest:
            self.arriving = self.inputs.copy()


class _Record:
    """Everything of all lanes, tick by tick."""

    def __init__(self, scene: Scene) -> None:
        self._count = len(scene.setting.plan.channels)
        self._inputs: list[Ints] = []
        self._resets: list[Flags] = []
        self._held: list[Flags] = []
        self._moving: list[Flags] = []

    def add(self, scene: _Outside) -> None:
        """A tick."""
        self._inputs.append(scene.arriving)
        self._resets.append(scene.reset_now.copy())
        self._held.append(scene.held_back.copy())
        self._moving.append(scene.moving.copy())

    def moved(self, scene: Scene, lane: int) -> bool:
        """Whether anything moved in a lane just before its fault's onset."""
        return bool(self._moving[int(scene.points.onset[lane]) - 1][lane])

    def script(self, setting: Setting, scene: Scene, fault: Fault, number: int, lane: int) -> Script:
        """Of one lane, with the way there from power-up before it."""
        way = setting.ways[scene.points.prefix[lane]]
        rows = way.rows
        before = np.array(rows, np.int32).reshape(len(rows), self._inputs[0].shape[0])
        inputs = np.concatenate([before, np.array([row[:, lane] for row in self._inputs], np.int32)])
        calm = np.zeros(len(rows), np.bool_)
        clock = 1 + fault.percent / 100 if isinstance(fault, WrongClock) else 1.0
        return Script(
            fault,
            number,
            guard=way.guard,
            prefix=len(rows),
            onset=len(rows) + int(scene.points.onset[lane]),
            pulses=inputs[:, : self._count],
            contacts=inputs[:, self._count :],
            resets=np.concatenate([calm, [row[lane] for row in self._resets]]),
            held=np.concatenate([calm, [row[lane] for row in self._held]]),
            hangs=isinstance(fault, Hang),
            clock=clock,
            moving=self.moved(scene, lane),
            spoiled=fault.spoiled if isinstance(fault, TrainFault) else whole,
        )
