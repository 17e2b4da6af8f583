"""How quiet the wires are while nobody touches a stick, and how regularly pulses come."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, sqrt
from statistics import median

from mixer.board.frames import Frame
from mixer.link.device_time import DeviceTime

SPARE_US = 1.0
"""Added to the largest excursion seen: one step of the usual resolution."""


@dataclass(frozen=True, slots=True)
class ChannelJitter:
    """One wire at rest."""

    name: str
    pulses: int
    middle_us: float
    """The median, which a single wild pulse does not move."""
    peak_to_peak_us: float
    deviation_us: float
    """Standard deviation of the pulses seen (of the population)."""
    deadband_us: int
    """Suggested half-width: the largest excursion from the middle and one µs, rounded up."""
    rate_hz: float
    """Pulses a second."""
    worst_gap_ms: float
    """The longest time between two pulses, to within one frame of the board."""


@dataclass(frozen=True, slots=True)
class JitterReport:
    """All wires, and the board's own frames."""

    seconds: float
    frames_hz: float
    worst_frame_gap_ms: float
    channels: tuple[ChannelJitter, ...]


def measure_jitter(frames: Iterable[Frame], names: Sequence[str]) -> JitterReport:
    """From frames received while all sticks rest. Raises ValueError for fewer than two frames."""
    time = DeviceTime()
    times: list[int] = []
    seen: list[list[tuple[int, float]]] = [[] for _ in names]
    for frame in frames:
        times.append(time.at(frame))
        for pulses, width in zip(seen, frame.widths, strict=False):
            if width:
                pulses.append((times[-1], width / 2))
    if len(times) < 2:
        raise ValueError(f"jitter needs at least two frames, got {len(times)}")
    seconds = (times[-1] - times[0]) / 1e6
    channels = tuple(_channel(name, pulses, times) for name, pulses in zip(names, seen, strict=True))
    return JitterReport(seconds, (len(times) - 1) / seconds, _worst_gap_ms(times), channels)


def _channel(name: str, pulses: Sequence[tuple[int, float]], times: Sequence[int]) -> ChannelJitter:
    seconds = (times[-1] - times[0]) / 1e6
    if not pulses:
        return ChannelJitter(name, 0, 0.0, 0.0, 0.0, 0, 0.0, seconds * 1000)
    widths = [width for _, width in pulses]
    middle = median(widths)
    mean = sum(widths) / len(widths)
    deviation = sqrt(sum((width - mean) ** 2 for width in widths) / len(widths))
    excursion = max(max(widths) - middle, middle - min(widths))
    gap = _worst_gap_ms([times[0], *(at for at, _ in pulses), times[-1]])
    band = ceil(excursion + SPARE_US)
    rate = len(widths) / seconds
    return ChannelJitter(name, len(widths), middle, max(widths) - min(widths), deviation, band, rate, gap)


def _worst_gap_ms(times: Sequence[int]) -> float:
    return max(later - earlier for earlier, later in pairwise(times)) / 1000
