"""Breaking things on the running robot: any faults of the catalogue, several at once, until cleared.

The catalogue's faults work on many scenarios at once; here there is one lane. A fault begins in the tick
after it was injected. One that begins with switching on (`from_power_up`) starts the board anew with arm on
and sticks pushed, and goes on saying so until it is cleared.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from mixer.core.plan import Plan
from mixer.core.rest import frame_ticks, resting_pulses
from mixer.errors import OptionError, offer
from mixer.faults.both import Both, pairs_of
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import At, Fault, Received
from mixer.faults.power import Hang, WrongClock
from mixer.faults.pulses import stick_pulse
from mixer.plant.parts.damage import Damage

_GROUPS: Mapping[str, tuple[str, ...]] = {
    "radio": ("all-lost", "channel-lost", "repeats-last", "preset", "intermittent", "flicker", "slow",
              "faster", "foreign", "two-receivers"),
    "pulses": ("too-short", "too-long", "just-below", "just-above", "lowest", "highest", "spikes", "burst",
               "jitter", "doubled", "frozen"),
    "plugs": ("swapped", "reversed"),
    "power": ("power-up", "reset", "reset-loop", "sag-reset", "overrun", "slow-clock", "fast-clock", "hang",
              "other-firmware"),
    "end stops": ("stuck-open", "stuck-closed", "cable-off", "bounces", "stops-swapped", "both-closed",
                  "out-of-step"),
    "motors": ("motor-gone", "stalled", "jammed", "stuck-on"),
    "together": ("two",),
}  # fmt: skip
_PUSHED = 0.75


@dataclass(frozen=True, slots=True)
class FaultChoice:
    """One fault that can be injected."""

    key: str
    group: str
    """``radio``, ``pulses``, ``plugs``, ``power``, ``end stops``, ``motors`` or ``other``."""
    words: str
    advice: str
    unseen: bool
    """No firmware can see it from its inputs."""
    refused: str = ""
    """Why it cannot be broken where a chip runs the firmware; empty where it can."""


class Hit(NamedTuple):
    """What the faults leave of a tick."""

    inputs: list[int]
    resets: bool
    """The board starts anew before this tick."""
    misses: bool
    """The firmware does not get to run."""
    late: int = 0
    """How many whole ticks late this tick begins, by the board's own clock."""
    off: bool = False
    """Where it starts anew: whether the power was gone."""
    dark: bool = False
    """No program runs and every output is let go: a board in reset, or starting."""
    hangs: bool = False
    """The firmware hangs from this tick on, until something starts it anew."""


class Faults(Protocol):
    """What the running robot asks of whoever breaks things."""

    def apply(self, tick: int, inputs: list[int], commands: Sequence[int]) -> Hit:
        """What reaches the board in a tick instead of the clean inputs."""
        ...

    def damage(self) -> tuple[Damage, ...]:
        """What is broken below the firmware in the tick that was applied last."""
        ...


class Unharmed:
    """Nothing is broken."""

    def apply(self, tick: int, inputs: list[int], commands: Sequence[int]) -> Hit:
        """The inputs as they are."""
        del tick, commands
        return Hit(inputs, resets=False, misses=False)

    def damage(self) -> tuple[Damage, ...]:
        """Nothing."""
        return ()


@dataclass(slots=True)
class _Active:
    fault: Fault
    onset: int
    pushed: np.ndarray


class FaultBoard:
    """Faults between source and board."""

    def __init__(self, plan: Plan, frame_ms: float, seed: int = 1) -> None:
        self._seed = np.array([seed], np.uint32)
        self._active: dict[str, _Active] = {}
        self._tick = self._last_frame = 0
        self._missed, self._behind = False, 0
        self._names: list[str] = []
        self._on_chip = False
        self.change_plan(plan, frame_ms)

    def change_plan(self, plan: Plan, frame_ms: float) -> None:
        """Go on with a changed plan; a fault that it does not have any more is cleared."""
        self._plan = plan
        self._frame_ticks = frame_ticks(plan, frame_ms)
        self._known: dict[str, Fault] = {}
        self._choices: tuple[FaultChoice, ...] = ()
        names = [channel.name for channel in plan.channels]
        if names != self._names:
            self._names = names
            self._level = [channel.rest_us for channel in plan.channels]
            self._waiting = [0] * len(plan.channels)
        for key, active in list(self._active.items()):
            self._list()
            if key in self._known and len(active.pushed) == len(plan.channels):
                active.fault = self._known[key]
            else:
                del self._active[key]

    def put_on_chip(self, on_chip: bool) -> None:
        """A simulated chip runs the firmware: it has a watchdog and a clock of its own.

        A hang is then told as one (`Hit.hangs`), whatever time the fault gives its watchdog, and a wrong
        clock is refused.
        """
        self._on_chip = on_chip
        for key in [key for key, active in self._active.items() if self._refused(active.fault)]:
            del self._active[key]
        self._known.clear()

    @property
    def choices(self) -> Sequence[FaultChoice]:
        """Everything that can be broken on this robot, in the catalogue's order."""
        self._list()
        return self._choices

    @property
    def active(self) -> tuple[str, ...]:
        """Keys of what is broken now, oldest first."""
        return tuple(self._active)

    @property
    def active_words(self) -> Mapping[str, str]:
        """What happens, for everything that is broken now."""
        return {key: active.fault.words for key, active in self._active.items()}

    def words(self, key: str) -> str:
        """What happens. Raises OptionError for an unknown fault."""
        return self._fault(key).words

    def inject(self, key: str, wait: int = 1) -> None:
        """Break it from the next tick on, or after more.

        Raises OptionError for an unknown fault, and for one that cannot be done to a chip where one runs.
        """
        fault = self._fault(key)
        if said := self._refused(fault):
            raise OptionError(
                f"{fault.words} {said}",
                "`failsafe --engine board` does, by playing all else at another pace",
            )
        level = self._pushed() if fault.from_power_up else self._level
        self._active[key] = _Active(fault, self._tick + wait, np.array(level, np.int32)[:, None])

    def clear(self, key: str) -> None:
        """Mend it."""
        self._active.pop(key, None)

    def toggle(self, key: str) -> bool:
        """Break it, or mend it; whether it is broken now."""
        if key in self._active:
            self.clear(key)
        else:
            self.inject(key)
        return key in self._active

    def clear_all(self) -> None:
        """Mend everything."""
        self._active.clear()

    def restart(self) -> None:
        """Time has jumped (a scrub): faults that are on begin anew."""
        self._missed, self._behind = False, 0
        for active in self._active.values():
            active.onset = self._tick + 1

    def apply(self, tick: int, inputs: list[int], commands: Sequence[int]) -> Hit:
        """What reaches the board in a tick instead of the clean inputs."""
        self._tick = tick
        count = len(self._plan.channels)
        if any(inputs[:count]):
            self._last_frame = tick
            self._level = [new or old for new, old in zip(inputs[:count], self._level, strict=True)]
        if not self._active and not self._missed:
            return Hit(inputs, resets=False, misses=False)
        received = Received(np.array(self._level, np.int32)[:, None], np.array(inputs[:count])[:, None] > 0)
        contacts = np.array(inputs[count:], np.int32)[:, None]
        resets = misses = told = off = hangs = False
        for active in self._active.values():
            at, fault = self._at(active, commands), active.fault
            begins = bool(at.since[0] == 0)
            if fault.from_power_up and at.on[0]:
                received, off = Received(active.pushed, received.arrives), off or begins
            received = fault.receive(received, at)
            contacts = fault.read(contacts, at)
            if self._on_chip and _is(fault, Hang):
                hangs = hangs or begins
                continue
            resets = resets or _any(fault.resets(at))
            missed = _any(fault.misses(at))
            misses, told = misses or missed, told or (missed and not fault.mismeasures)
        pulses = np.where(received.arrives, received.level, 0)[:, 0].tolist()
        read = (pulses if self._on_chip else self._waited(pulses, misses)) + contacts[:, 0].tolist()
        return Hit(read, resets or off, misses, self._late(misses=misses, told=told), off, hangs=hangs)

    def damage(self) -> tuple[Damage, ...]:
        """What is broken below the firmware in this tick."""
        begun = [active.fault for active in self._active.values() if active.onset <= self._tick]
        return tuple(item for fault in begun for item in fault.damage)

    def _refused(self, fault: Fault) -> str:
        """Why it cannot be done to the chip that runs the firmware; empty where it can, or none does."""
        is_clock = self._on_chip and _is(fault, WrongClock)
        return "No simulated chip here can have its clock turned while it runs." if is_clock else ""

    def _late(self, *, misses: bool, told: bool) -> int:
        """How late a tick begins that is run; a clock that is slow tells nothing of the ticks it lacks."""
        behind = self._behind + told
        self._missed, self._behind = misses, behind if misses else 0
        return 0 if misses else behind

    def _waited(self, pulses: list[int], misses: bool) -> list[int]:
        """Pulses that came while the firmware did not run wait for its next tick."""
        waiting = [new or old for new, old in zip(pulses, self._waiting, strict=True)]
        self._waiting = waiting if misses else [0] * len(waiting)
        return waiting

    def _at(self, active: _Active, commands: Sequence[int]) -> At:
        return At(
            plan=self._plan,
            tick=self._tick,
            since=np.array([self._tick - active.onset], np.int32),
            seed=self._seed,
            frame_ticks=self._frame_ticks,
            in_frame=(self._tick - self._last_frame) % self._frame_ticks,
            pushed=active.pushed,
            commands=np.array(commands, np.int32)[:, None],
        )

    def _pushed(self) -> list[int]:
        levels = resting_pulses(self._plan, armed=True)
        for stick in self._plan.sticks:
            levels[stick.channel] = stick_pulse(self._plan, stick, _PUSHED)
        return levels

    def _list(self) -> None:
        """The catalogue of this plan, worked out when first asked for: a drag makes many plans."""
        if not self._known:
            single = catalogue(self._plan)
            lost = (
                pair for pair in pairs_of(single, len(single) ** 2, 0)[0] if pair.second.kind == "all-lost"
            )
            self._known = {fault.key: fault for fault in (*single, *lost) if fault.key != "none"}
            self._choices = tuple(
                FaultChoice(
                    fault.key,
                    _group_of(fault.key),
                    fault.words,
                    fault.advice,
                    fault.unseen,
                    self._refused(fault),
                )
                for fault in self._known.values()
            )

    def _fault(self, key: str) -> Fault:
        self._list()
        if key not in self._known:
            raise OptionError(f"this robot has no fault {key!r}", offer(key, self._known, "faults"))
        return self._known[key]


def _is(fault: Fault, kind: type[Fault]) -> bool:
    parts = (fault.first, fault.second) if isinstance(fault, Both) else (fault,)
    return any(isinstance(part, kind) for part in parts)


def _any(mask: np.ndarray | None) -> bool:
    return mask is not None and bool(mask.any())


def _group_of(key: str) -> str:
    head = key.partition(".")[0]
    return next((group for group, heads in _GROUPS.items() if head in heads), "other")
