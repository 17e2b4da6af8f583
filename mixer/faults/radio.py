"""Faults between the sticks and the board's receiver pins."""

from dataclasses import dataclass

import numpy as np

from mixer.faults.fault import Air, At, Fault, below, chance, salts


@dataclass(frozen=True, slots=True)
class AllLost(Fault):
    """The radio goes: no channel brings a pulse any more."""

    def receive(self, air: Air, at: At) -> Air:
        """Nothing arrives."""
        return Air(air.level, air.arrives & ~at.on)


@dataclass(frozen=True, slots=True)
class ChannelLost(Fault):
    """One wire is off."""

    channel: int = 0

    def receive(self, air: Air, at: At) -> Air:
        """Nothing arrives on this channel."""
        arrives = air.arrives.copy()
        arrives[self.channel] &= ~at.on
        return Air(air.level, arrives)


@dataclass(frozen=True, slots=True)
class Repeats(Fault):
    """The receiver goes on sending the last frame it heard."""

    def receive(self, air: Air, at: At) -> Air:
        """The pulses of the moment the radio went, whatever the operator does."""
        return Air(np.where(at.on, at.pushed, air.level), air.arrives)


@dataclass(frozen=True, slots=True)
class Presets(Fault):
    """The receiver sends pulses it was set up with."""

    levels: tuple[int, ...] = ()
    """One pulse a channel, in µs."""

    def receive(self, air: Air, at: At) -> Air:
        """The preset pulses."""
        preset = np.array(self.levels, dtype=np.int32)[:, None]
        return Air(np.where(at.on, preset, air.level), air.arrives)


@dataclass(frozen=True, slots=True)
class OneLevel(Fault):
    """One channel stands at a pulse of its own."""

    channel: int = 0
    level: int = 0

    def receive(self, air: Air, at: At) -> Air:
        """That pulse on that channel."""
        level = air.level.copy()
        level[self.channel] = np.where(at.on, self.level, level[self.channel])
        return Air(level, air.arrives)


@dataclass(frozen=True, slots=True)
class Frozen(Fault):
    """One channel goes on bringing one and the same valid pulse, wherever that is."""

    channel: int = 0

    def receive(self, air: Air, at: At) -> Air:
        """Each scenario freezes at a pulse of its own."""
        wire = at.plan.channels[self.channel]
        place = wire.good_low_us + below(at.seed, 0, 512, wire.good_high_us - wire.good_low_us + 1)
        level = air.level.copy()
        level[self.channel] = np.where(at.on, place, level[self.channel])
        return Air(level, air.arrives)


@dataclass(frozen=True, slots=True)
class Foreign(Fault):
    """Another transmitter is heard instead: bound anew, or somebody else's on the same setting."""

    def receive(self, air: Air, at: At) -> Air:
        """Its sticks and switches stand anywhere, and stay there for half a second at a time."""
        level = air.level.copy()
        spell = (at.since * at.plan.tick_ms // 500).astype(np.uint32)
        for channel, wire in enumerate(at.plan.channels):
            shifted = at.seed + spell * np.uint32(0x9E3779B1)
            place = wire.good_low_us + below(
                shifted, 0, 528 + channel, wire.good_high_us - wire.good_low_us
            )
            level[channel] = np.where(at.on, place, level[channel])
        return Air(level, air.arrives)


@dataclass(frozen=True, slots=True)
class TwoReceivers(Fault):
    """Two receivers on one wire: every other frame says what the sticks said before."""

    def receive(self, air: Air, at: At) -> Air:
        """Frames of the moment of the onset between those of the operator."""
        other = at.on & (at.since // at.frame_ticks % 2 == 1)
        return Air(np.where(other, at.pushed, air.level), air.arrives)


@dataclass(frozen=True, slots=True)
class Faster(Fault):
    """Frames come at a higher pace than the receiver is said to send them."""

    factor: int = 4

    def receive(self, air: Air, at: At) -> Air:
        """So many frames in the time of one."""
        pace = max(at.frame_ticks // self.factor, 1)
        return Air(air.level, air.arrives | (at.on & (at.since % pace == 0)))


@dataclass(frozen=True, slots=True)
class Spikes(Fault):
    """Single pulses of any length between the good ones."""

    share: float = 0.1

    def receive(self, air: Air, at: At) -> Air:
        """In this share of the frames each channel's pulse is anything from 1 to 4000 µs."""
        count = len(air.level)
        hit = at.on & chance(at.seed, at.tick, salts(0, count), self.share)
        spikes = 1 + below(at.seed, at.tick, salts(64, count), 4000)
        return Air(np.where(hit, spikes, air.level), air.arrives)


@dataclass(frozen=True, slots=True)
class Burst(Fault):
    """Noise on every channel for a while, pulses at any time."""

    ticks: int = 100
    """How long a burst lasts; one every two bursts' time."""

    def receive(self, air: Air, at: At) -> Air:
        """In half of the ticks of a burst a pulse of any length ends."""
        noisy = at.on & (at.since % (2 * self.ticks) < self.ticks)
        count = len(air.level)
        comes = chance(at.seed, at.tick, salts(128, count), 0.5)
        noise = 1 + below(at.seed, at.tick, salts(192, count), 4000)
        return Air(np.where(noisy, noise, air.level), np.where(noisy, comes, air.arrives))


@dataclass(frozen=True, slots=True)
class Slow(Fault):
    """Frames come at a slower pace."""

    factor: int = 2
    """Only every so-manieth frame arrives."""

    def receive(self, air: Air, at: At) -> Air:
        """All frames but every `factor`-th are missing."""
        comes = (at.since // at.frame_ticks) % self.factor == 0
        return Air(air.level, air.arrives & (~at.on | comes))


@dataclass(frozen=True, slots=True)
class Jitter(Fault):
    """Frames come early or late, up to half a frame, each channel by itself."""

    def receive(self, air: Air, at: At) -> Air:
        """Each frame ends at a tick of its own."""
        frame = at.since // at.frame_ticks
        most = max(at.frame_ticks // 2, 1)
        shifted = at.seed + frame.astype(np.uint32) * np.uint32(0x9E3779B1)
        due = below(shifted, 0, salts(256, len(air.level)), most + 1)
        return Air(air.level, np.where(at.on, at.in_frame == due, air.arrives))


@dataclass(frozen=True, slots=True)
class Doubled(Fault):
    """Every frame comes twice."""

    def receive(self, air: Air, at: At) -> Air:
        """Once more in the middle between two frames."""
        again = at.on & (at.in_frame == at.frame_ticks // 2)
        return Air(air.level, air.arrives | again)


@dataclass(frozen=True, slots=True)
class Intermittent(Fault):
    """The signal comes and goes."""

    period_frames: int = 10
    share: float = 0.5
    """The part of each period in which frames are missing."""

    def receive(self, air: Air, at: At) -> Air:
        """Missing at the beginning of each period."""
        period = self.period_frames * at.frame_ticks
        missing = at.on & (at.since % period < int(self.share * period))
        return Air(air.level, air.arrives & ~missing)


@dataclass(frozen=True, slots=True)
class Flicker(Fault):
    """Each channel's pulse is missing by chance."""

    share: float = 0.5

    def receive(self, air: Air, at: At) -> Air:
        """Each channel of each frame for itself."""
        missing = at.on & chance(at.seed, at.tick, salts(320, len(air.level)), self.share)
        return Air(air.level, air.arrives & ~missing)


@dataclass(frozen=True, slots=True)
class Swapped(Fault):
    """Two channels are plugged the wrong way round."""

    first: int = 0
    second: int = 1

    def receive(self, air: Air, at: At) -> Air:
        """Each carries what the other should."""
        level = air.level.copy()
        level[self.first] = np.where(at.on, air.level[self.second], air.level[self.first])
        level[self.second] = np.where(at.on, air.level[self.first], air.level[self.second])
        return Air(level, air.arrives)


@dataclass(frozen=True, slots=True)
class Mirrored(Fault):
    """One channel is reversed on the radio."""

    channel: int = 0

    def receive(self, air: Air, at: At) -> Air:
        """Mirrored about 1500 µs."""
        level = air.level.copy()
        level[self.channel] = np.where(at.on, 3000 - level[self.channel], level[self.channel])
        return Air(level, air.arrives)
