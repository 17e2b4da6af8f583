"""What a run is measured by: one table of names, units and words, and the numbers of one run."""

from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple


class Measure(NamedTuple):
    """One number of a run; less of it is better."""

    key: str
    label: str
    unit: str
    digits: int
    less: str
    more: str
    """What a tuning is that has less of it, or more; after ``with`` what it has."""


_ALL = (
    Measure("time_s", "time", "s", 2, "quicker", "slower"),
    Measure("off_rms_m", "off the way", "m", 3, "closer to the way", "further off the way"),
    Measure("off_most_m", "most off", "m", 3, "closer to the way at its worst", "further off at its worst"),
    Measure("touched", "posts touched", "", 1, "with fewer posts touched", "with more posts touched"),
    Measure("overshoot", "overshoot", "m", 3, "with less overshoot", "with more overshoot"),
    Measure("corrections_per_s", "corrections", "/s", 2, "with fewer corrections", "with more corrections"),
    Measure("full_share", "at full stick", "%", 0, "with less full stick", "with more full stick"),
    Measure("slid_m", "slid", "m", 3, "with less slip", "with more slip"),
    Measure("charge_mah", "charge", "mAh", 3, "with less charge used", "with more charge used"),
)
MEASURES = MappingProxyType({measure.key: measure for measure in _ALL})


@dataclass(frozen=True, slots=True)
class RunMeasures:
    """One finished run, by the keys of `MEASURES`."""

    time_s: float
    """From the first movement of a stick to the end of the way, or to rest where rest is asked."""
    off_rms_m: float
    """Root mean square distance off the ideal way, over time; on the spot, off the spot."""
    off_most_m: float
    touched: int
    """Times a post was touched."""
    overshoot: float
    """The furthest outside a bend or just behind it; past a box's middle; in degrees, past half a turn."""
    corrections_per_s: float
    """Reversals of a driving stick by `lap.CORRECTION` of its way or more, a second."""
    full_share: float
    """Percentage of the time in which a driving stick is at `lap.FULL` of its way or more."""
    slid_m: float
    """Way that the tyres rubbed over the floor, the mean of all wheels."""
    charge_mah: float
    """What the battery gave."""

    def of(self, key: str) -> float:
        """One of them."""
        return float(getattr(self, key))
