"""Endpoints, centre and deadband from a recording: sticks swept end to end, then left alone.

Ends and centre are levels that were held (`dwells`), not extremes that were touched. The deadband covers
what the released stick does by itself.
"""

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from math import ceil

import numpy as np

from mixer.runs.log.cells import NO_PULSE, Row
from mixer.runs.log.dwells import WIDTH_SIGMAS, DwellWatch, Level, noise_of, quantile

STILL_US = 40
"""Pulses that stay within this were not moved on purpose: more than the rest noise of a usable receiver."""
DRIFT_US = 4
"""A centre that moves no further has not drifted: a step or two of the receiver."""
MARGIN_US = 2
"""Added to the noise seen, because a recording never shows all of it."""
DEADBAND_STEP = 0.005
BETWEEN_SHARE = 0.005
"""A switch has no pulses between its levels, but for a spike now and then."""


class Kind(Enum):
    """What a channel's recording looks like."""

    STICK = "stick"
    SWITCH = "switch"
    STILL = "still"


@dataclass(frozen=True, slots=True)
class ChannelCalibration:
    """What one channel's recording proposes. Pulses in µs."""

    name: str
    kind: Kind
    pulses: int
    low_us: int
    centre_us: int | None
    """None for a switch, and for a stick that was never left alone."""
    high_us: int
    rest_noise_us: int
    """How far from the centre the released stick strays: what was seen, and three standard deviations."""
    deadband: float
    """Share of the shorter side that covers the noise and a margin; 0 where there is no centre."""
    levels_us: tuple[int, ...]
    """Every level that was held, lowest first."""
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a recording proposes for all channels."""

    channels: tuple[ChannelCalibration, ...]


def calibrate(names: Sequence[str], rows: Iterable[Row]) -> Calibration:
    """Read a recording of the named channels, in the order of the rows' pulses."""
    came: list[tuple[array[int], array[int]]] = [(array("q"), array("i")) for _ in names]
    for row in rows:
        for (times, pulses), pulse in zip(came, row.pulses, strict=True):
            if pulse != NO_PULSE:
                times.append(row.t_us)
                pulses.append(pulse)
    return Calibration(tuple(_channel(name, *each) for name, each in zip(names, came, strict=True)))


def _channel(name: str, times: Sequence[int], pulses: Sequence[int]) -> ChannelCalibration:
    sigma_us = noise_of(pulses)
    watch = DwellWatch(sigma_us)
    for t_us, pulse in zip(times, pulses, strict=True):
        watch.add(t_us, pulse)
    return _proposal(name, watch, max(STILL_US, round(WIDTH_SIGMAS * sigma_us)))


def _proposal(name: str, watch: DwellWatch, still_us: int) -> ChannelCalibration:
    places = np.flatnonzero(watch.steadied)
    if not len(places):
        return ChannelCalibration(name, Kind.STILL, 0, 0, None, 0, 0, 0.0, (), ("no pulse came",))
    counts = watch.steadied[places]
    total = int(counts.sum())
    low, high = quantile(places, counts, 0.01), quantile(places, counts, 0.99)
    levels = watch.levels()
    centres = tuple(level.centre_us for level in levels)
    if high - low <= still_us and len(levels) <= 1:
        middle = quantile(places, counts, 0.5)
        notes = ("never moved: sweep it end to end and record again",)
        return ChannelCalibration(name, Kind.STILL, total, middle, None, middle, 0, 0.0, centres, notes)
    if _is_switch(watch, levels, total):
        return ChannelCalibration(
            name, Kind.SWITCH, total, centres[0], None, centres[-1], 0, 0.0, centres, _flicked(centres)
        )
    return _stick(name, levels, total, low, high)


def _flicked(levels: Sequence[int]) -> tuple[str, ...]:
    """A stick that springs back to its middle, flicked from end to end, gives the pulses of a switch."""
    if len(levels) != 3 or abs(levels[1] - (levels[0] + levels[2]) / 2) > (levels[2] - levels[0]) / 10:
        return ()
    return ("every move took one frame; if this is a stick, sweep it slowly and record again",)


def _is_switch(watch: DwellWatch, levels: Sequence[Level], total: int) -> bool:
    if len(levels) not in {2, 3}:
        return False
    at_level = sum(int(watch.steadied[level.low_us - 4 : level.high_us + 5].sum()) for level in levels)
    return total - at_level <= BETWEEN_SHARE * total


def _stick(name: str, levels: Sequence[Level], total: int, low: int, high: int) -> ChannelCalibration:
    notes: list[str] = []
    reach = max((high - low) // 10, 1)
    if levels and levels[0].centre_us <= low + reach:
        low = levels[0].centre_us
    else:
        notes.append("the low end was never held for half a second: taken from its lowest pulses")
    if levels and levels[-1].centre_us >= high - reach:
        high = levels[-1].centre_us
    else:
        notes.append("the high end was never held for half a second: taken from its highest pulses")
    inner = [level for level in levels if low + reach < level.centre_us < high - reach]
    rest = max(inner, key=lambda level: level.pulses, default=None)
    if rest is None:
        notes.append("never left alone between its ends: no centre and no deadband to propose")
        return _calibrated(name, total, (low, high), None, levels, notes)
    return _calibrated(name, total, (low, high), rest, levels, notes)


def _calibrated(
    name: str,
    total: int,
    ends: tuple[int, int],
    rest: Level | None,
    levels: Sequence[Level],
    notes: Sequence[str],
) -> ChannelCalibration:
    noise, deadband = 0, 0.0
    if rest is not None:
        seen = max(rest.high_us - rest.centre_us, rest.centre_us - rest.low_us)
        noise = max(seen, ceil(3 * rest.deviation_us))
        if abs(rest.last_us - rest.first_us) > max(DRIFT_US, rest.deviation_us):
            drift = f"released, it stood at {rest.first_us} µs first and at {rest.last_us} µs in the end"
            notes = [*notes, f"{drift}: it drifts; let the radio warm up, then record again"]
        shorter = min(rest.centre_us - ends[0], ends[1] - rest.centre_us)
        deadband = round(ceil((noise + MARGIN_US) / shorter / DEADBAND_STEP) * DEADBAND_STEP, 3)
    return ChannelCalibration(
        name=name,
        kind=Kind.STICK,
        pulses=total,
        low_us=ends[0],
        centre_us=rest.centre_us if rest is not None else None,
        high_us=ends[1],
        rest_noise_us=noise,
        deadband=deadband,
        levels_us=tuple(level.centre_us for level in levels),
        notes=tuple(notes),
    )


def toml_lines(calibration: Calibration) -> Iterator[str]:
    """Lines to paste over those of a profile. What a profile cannot take as it is, is a comment."""
    for channel in calibration.channels:
        if channel.kind is Kind.STILL:
            yield f"# {channel.name}: {'; '.join(channel.notes)}"
        else:
            yield f"[{channel.kind.value}.{_key(channel.name)}]"
            yield from (f"# {note}" for note in channel.notes)
            yield f"low_us = {channel.low_us}"
            if channel.centre_us is not None:
                yield f"centre_us = {channel.centre_us}"
            yield f"high_us = {channel.high_us}"
            if channel.centre_us is not None:
                yield (
                    f"# its shape: deadband = {channel.deadband:g}"
                    f" (released, it stays within ±{channel.rest_noise_us} µs)"
                )
            if channel.kind is Kind.SWITCH:
                levels = ", ".join(map(str, channel.levels_us))
                yield f"# a switch with {len(channel.levels_us)} positions at {levels} µs"
        yield ""


def _key(name: str) -> str:
    bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return name if bare else f'"{escaped}"'
