"""Faults between the sticks and the board's receiver pins."""

from dataclasses import dataclass

import numpy as np

from mixer.faults.fault import At, Fault, Received, below, chance, salts


@dataclass(frozen=True, slots=True)
class AllLost(Fault):
    """The radio goes: no channel brings a pulse any more."""

    def receive(self, received: Received, at: At) -> Received:
        """Nothing arrives."""
        return Received(received.level, received.arrives & ~at.on)


@dataclass(frozen=True, slots=True)
class ChannelLost(Fault):
    """One wire is off."""

    channel: int = 0

    def receive(self, received: Received, at: At) -> Received:
        """Nothing arrives on this channel."""
        arrives = received.arrives.copy()
        arrives[self.channel] &= ~at.on
        return Received(received.level, arrives)


@dataclass(frozen=True, slots=True)
class Repeats(Fault):
    """The receiver goes on sending the last frame it heard."""

    def receive(self, received: Received, at: At) -> Received:
        """The pulses of the moment the radio went, whatever the operator does."""
        return Received(np.where(at.on, at.pushed, received.level), received.arrives)


@dataclass(frozen=True, slots=True)
class Presets(Fault):
    """The receiver sends pulses it was set up with."""

    levels: tuple[int, ...] = ()
    """One pulse a channel, in µs."""

    def receive(self, received: Received, at: At) -> Received:
        """The preset pulses."""
        preset = np.array(self.levels, dtype=np.int32)[:, None]
        return Received(np.where(at.on, preset, received.level), received.arrives)


@dataclass(frozen=True, slots=True)
class OneLevel(Fault):
    """One channel stands at a pulse of its own."""

    channel: int = 0
    level: int = 0

    def receive(self, received: Received, at: At) -> Received:
        """That pulse on that channel."""
        level = received.level.copy()
        level[self.channel] = np.where(at.on, self.level, level[self.channel])
        return Received(level, received.arrives)


@dataclass(frozen=True, slots=True)
class Frozen(Fault):
    """One channel goes on bringing one and the same valid pulse, wherever that is."""

    channel: int = 0

    def receive(self, received: Received, at: At) -> Received:
        """Each scenario freezes at a pulse of its own."""
        wire = at.plan.channels[self.channel]
        place = wire.good_low_us + below(at.seed, 0, 512, wire.good_high_us - wire.good_low_us + 1)
        level = received.level.copy()
        level[self.channel] = np.where(at.on, place, level[self.channel])
        return Received(level, received.arrives)


@dataclass(frozen=True, slots=True)
class Foreign(Fault):
    """Another transmitter is heard instead: bound anew, or somebody else's on the same setting."""

    def receive(self, received: Received, at: At) -> Received:
        """Its sticks and switches stand anywhere, and stay there for half a second at a time."""
        level = received.level.copy()
        spell = (at.since * at.plan.tick_ms // 500).astype(np.uint32)
        for channel, wire in enumerate(at.plan.channels):
            shifted = at.seed + spell * np.uint32(0x9E3779B1)
            place = wire.good_low_us + below(
                shifted, 0, 528 + channel, wire.good_high_us - wire.good_low_us
            )
            level[channel] = np.where(at.on, place, level[channel])
        return Received(level, received.arrives)


@dataclass(frozen=True, slots=True)
class TwoReceivers(Fault):
    """Two receivers on one wire: every other frame says what the sticks said before."""

    def receive(self, received: Received, at: At) -> Received:
        """Frames of the moment of the onset between those of the operator."""
        other = at.on & (at.since // at.frame_ticks % 2 == 1)
        return Received(np.where(other, at.pushed, received.level), received.arrives)


@dataclass(frozen=True, slots=True)
class Faster(Fault):
    """Frames come at a higher pace than the receiver is said to send them."""

    factor: int = 4

    def receive(self, received: Received, at: At) -> Received:
        """So many frames in the time of one."""
        pace = max(at.frame_ticks // self.factor, 1)
        return Received(received.level, received.arrives | (at.on & (at.since % pace == 0)))


@dataclass(frozen=True, slots=True)
class Spikes(Fault):
    """Single pulses of any length between the good ones."""

    share: float = 0.1

    def receive(self, received: Received, at: At) -> Received:
        """In this share of the frames each channel's pulse is anything from 1 to 4000 µs."""
        count = len(received.level)
        hit = at.on & chance(at.seed, at.tick, salts(0, count), self.share)
        spikes = 1 + below(at.seed, at.tick, salts(64, count), 4000)
        return Received(np.where(hit, spikes, received.level), received.arrives)


@dataclass(frozen=True, slots=True)
class Burst(Fault):
    """Noise on every channel for a while, pulses at any time."""

    ticks: int = 100
    """How long a burst lasts; one every two bursts' time."""

    def receive(self, received: Received, at: At) -> Received:
        """In half of the ticks of a burst a pulse of any length ends."""
        noisy = at.on & (at.since % (2 * self.ticks) < self.ticks)
        count = len(received.level)
        comes = chance(at.seed, at.tick, salts(128, count), 0.5)
        noise = 1 + below(at.seed, at.tick, salts(192, count), 4000)
        return Received(np.where(noisy, noise, received.level), np.where(noisy, comes, received.arrives))


@dataclass(frozen=True, slots=True)
class Slow(Fault):
    """Frames come at a slower pace."""

    factor: int = 2
    """Only every so-manieth frame arrives."""

    def receive(self, received: Received, at: At) -> Received:
        """All frames but every `factor`-th are missing."""
        comes = (at.since // at.frame_ticks) % self.factor == 0
        return Received(received.level, received.arrives & (~at.on | comes))


@dataclass(frozen=True, slots=True)
class Jitter(Fault):
    """Frames come early or late, up to half a frame, each channel by itself."""

    def receive(self, received: Received, at: At) -> Received:
        """Each frame ends at a tick of its own."""
        frame = at.since // at.frame_ticks
        most = max(at.frame_ticks // 2, 1)
        shifted = at.seed + frame.astype(np.uint32) * np.uint32(0x9E3779B1)
        due = below(shifted, 0, salts(256, len(received.level)), most + 1)
        return Received(received.level, np.where(at.on, at.in_frame == due, received.arrives))


@dataclass(frozen=True, slots=True)
class Doubled(Fault):
    """Every frame comes twice."""

    def receive(self, received: Received, at: At) -> Received:
        """Once more in the middle between two frames."""
        again = at.on & (at.in_frame == at.frame_ticks // 2)
        return Received(received.level, received.arrives | again)


@dataclass(frozen=True, slots=True)
class Intermittent(Fault):
    """The signal comes and goes."""

    period_frames: int = 10
    share: float = 0.5
    """The part of each period in which frames are missing."""

    def receive(self, received: Received, at: At) -> Received:
        """Missing at the beginning of each period."""
        period = self.period_frames * at.frame_ticks
        missing = at.on & (at.since % period < int(self.share * period))
        return Received(received.level, received.arrives & ~missing)


@dataclass(frozen=True, slots=True)
class Flicker(Fault):
    """Each channel's pulse is missing by chance."""

    share: float = 0.5

    def receive(self, received: Received, at: At) -> Received:
        """Each channel of each frame for itself."""
        missing = at.on & chance(at.seed, at.tick, salts(320, len(received.level)), self.share)
        return Received(received.level, received.arrives & ~missing)


@dataclass(frozen=True, slots=True)
class Swapped(Fault):
    """Two channels are plugged the wrong way round."""

    first: int = 0
    second: int = 1

    def receive(self, received: Received, at: At) -> Received:
        """Each carries what the other should."""
        level = received.level.copy()
        level[self.first] = np.where(at.on, received.level[self.second], received.level[self.first])
        level[self.second] = np.where(at.on, received.level[self.first], received.level[self.second])
        return Received(level, received.arrives)


@dataclass(frozen=True, slots=True)
class Mirrored(Fault):
    """One channel is reversed on the radio."""

    channel: int = 0

    def receive(self, received: Received, at: At) -> Received:
        """Mirrored about 1500 µs."""
        level = received.level.copy()
        level[self.channel] = np.where(at.on, 3000 - level[self.channel], level[self.channel])
        return Received(level, received.arrives)
