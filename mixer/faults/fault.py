"""What a fault is: a small frozen object that says how it changes what reaches the board.

A fault is a pure function of the tick, the lane's seed and the clean inputs, over many lanes (scenarios)
at once: arrays are (channels or contacts, lanes), one number a lane is (lanes,). Nothing is remembered
between ticks, so that any tick of any scenario can be looked at alone. Before the onset it changes nothing,
and nobody asks it.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.plant.parts.damage import Damage, Harm

Ints = npt.NDArray[np.int32]
Flags = npt.NDArray[np.bool_]
Seeds = npt.NDArray[np.uint32]


class Received(NamedTuple):
    """What the receiver puts on its wires in this tick."""

    level: Ints
    """(channels, lanes): the pulse each channel would carry now, in µs."""
    arrives: Flags
    """(channels, lanes): whether a pulse ends in this tick."""


class At(NamedTuple):
    """Where the scenarios stand in this tick."""

    plan: Plan
    tick: int
    since: Ints
    """(lanes,): ticks since the fault's onset; negative before it."""
    seed: Seeds
    """(lanes,): each scenario's own seed."""
    frame_ticks: int
    """Ticks from one frame to the next."""
    in_frame: int
    """Ticks since the last frame ended; 0 where one ends now."""
    pushed: Ints
    """(channels, lanes): the pulses of the scenario's operating point, sticks pushed."""
    commands: Ints
    """(outputs, lanes): what each output was told in the tick before."""

    @property
    def on(self) -> Flags:
        """(lanes,): where the fault has begun."""
        return self.since >= 0

    @property
    def load(self) -> npt.NDArray[np.float32]:
        """(lanes,): the mean share of full that the outputs were told in the tick before."""
        load: npt.NDArray[np.float32] = np.abs(self.commands).mean(axis=0, dtype=np.float32) / np.float32(
            ONE
        )
        return load


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that goes wrong. The base class is the fault that changes nothing."""

    key: str
    """Short name, with its parameters: ``channel-lost.throttle``."""
    words: str
    """What happens, for a builder."""
    advice: str = ""
    """What to do about it, above all where the firmware cannot see it."""
    radio_gone: bool = False
    """Whether the operator's commands no longer arrive, so that a safe robot comes to rest."""
    unseen: bool = False
    """Whether nothing that reaches the board differs from a healthy robot's inputs."""
    restarts: bool = False
    """Whether the board starts anew for it, so that everything is at zero until armed again."""
    restart_ticks: int = 0
    """From its onset to the tick before which the board starts anew."""
    grace_ticks: int = 0
    """Ticks beyond the promised time within which a safe robot has come to rest, where it takes longer."""
    slows: float = 1.0
    """How many times longer everything takes that the board counts in ticks."""
    mismeasures: bool = False
    """Whether the board's clock, and so every pulse it measures, is wrong."""
    from_power_up: bool = False
    """Whether the scenario begins with the board just powered up."""
    any_tick: bool = False
    """Whether it can bring pulses between frames."""
    damage: tuple[Damage, ...] = ()
    """What is broken below the firmware from its onset on."""

    @property
    def kind(self) -> str:
        """What it is called without its parameters."""
        return self.key.partition(".")[0]

    @property
    def must_stop(self) -> bool:
        """Whether the firmware can see it, and has to stop the robot for it."""
        return (self.radio_gone and not self.unseen) or self.restarts

    @property
    def runs_away(self) -> bool:
        """Whether something drives on whatever the firmware says."""
        return any(item.harm is Harm.STUCK_ON for item in self.damage)

    @property
    def ends_driving(self) -> bool:
        """Whether a safe robot would come to rest by it, seen or not: how soon and how far is measured."""
        return self.radio_gone or self.restarts

    def changes(self, what: str) -> bool:
        """Whether it has a `receive`, `read`, `resets` or `misses` of its own."""
        return getattr(type(self), what) is not getattr(Fault, what)

    def receive(self, received: Received, at: At) -> Received:
        """The receiver's wires as the fault leaves them."""
        del at
        return received

    def read(self, contacts: Ints, at: At) -> Ints:
        """(contacts, lanes): what the board reads instead of the clean readings."""
        del at
        return contacts

    def resets(self, at: At) -> Flags | None:
        """(lanes,): where the board starts anew before this tick; None for nowhere."""
        del at
        return None

    def misses(self, at: At) -> Flags | None:
        """(lanes,): where the firmware does not get to run in this tick; None for nowhere.

        A board whose clock is right sees by it that its next tick comes late (`mixer.core.late`).
        """
        del at
        return None


def digest(text: str) -> int:
    """A number of a text, the same in every run (Python's own hash is not). FNV-1a, from memory."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 0x01000193 & 0xFFFFFFFF
    return value


Salt = int | npt.NDArray[np.int64]
"""What tells draws of one scenario and tick apart; a column of them gives a row of draws for each."""


def salts(first: int, count: int) -> npt.NDArray[np.int64]:
    """(count, 1): one for each channel."""
    return np.arange(first, first + count, dtype=np.int64)[:, None]


def hashed(seed: Seeds, tick: int, salt: Salt) -> Seeds:
    """An even 32-bit hash of (lane's seed, tick, salt): the noise of a scenario, the same in every run.

    Two rounds of multiply and xor-shift with the constants of MurmurHash3's 32-bit finaliser
    (A. Appleby, public domain); from memory.
    """
    offset = (tick * 0x9E3779B1 + salt * 0x85EBCA77) & 0xFFFFFFFF
    h: Seeds = seed + np.asarray(offset).astype(np.uint32)
    h = (h ^ (h >> np.uint32(16))) * np.uint32(0x85EBCA6B)
    h = (h ^ (h >> np.uint32(13))) * np.uint32(0xC2B2AE35)
    return h ^ (h >> np.uint32(16))


def below(seed: Seeds, tick: int, salt: Salt, limit: int) -> Ints:
    """Whole numbers from 0 to limit - 1, limit <= 65536, even but for 1 part in 65536."""
    high = (hashed(seed, tick, salt) >> np.uint32(16)).astype(np.uint32)
    return ((high * np.uint32(limit)) >> np.uint32(16)).astype(np.int32)


def chance(seed: Seeds, tick: int, salt: Salt, share: float) -> Flags:
    """True with the given probability."""
    return hashed(seed, tick, salt) < np.uint32(min(int(share * 2**32), 2**32 - 1))
