"""How far along the ideal way a robot has come, and how far off it is.

The nearest point is looked for near the last one, so that a way may cross itself or lead back on itself.
"""

import math
from collections.abc import Sequence

import numpy as np

from mixer.course.tasks.shapes import Point

BENT = 0.3
"""A way counts as bent where its curvature is over this share of 1/unit."""


class Follower:
    """Follows one robot along a way, from the way's beginning."""

    def __init__(self, way: Sequence[Point], unit: float) -> None:
        """`unit` in m: half of it is looked at before and behind."""
        self._points = np.array(way, float)
        self._pieces = np.diff(self._points, axis=0)
        self._lengths = np.hypot(self._pieces[:, 0], self._pieces[:, 1])
        self._up_to = np.concatenate(([0.0], np.cumsum(self._lengths)))
        self._near = unit / 2
        self.length = float(self._up_to[-1])
        """Of the whole way in m."""
        self.along = 0.0
        """How much of it has been driven."""
        self._bends = self._bent(unit)

    def off(self, x: float, y: float) -> float:
        """Go on to here; the distance to the left of the way in m, negative to its right."""
        if not len(self._pieces):
            return math.dist(self._points[0], (x, y))
        low = int(np.searchsorted(self._up_to, self.along - self._near, "right")) - 1
        high = int(np.searchsorted(self._up_to, self.along + self._near, "left"))
        pick = slice(max(low, 0), min(high, len(self._pieces)))
        pieces, lengths = self._pieces[pick], self._lengths[pick]
        to = np.array((x, y)) - self._points[:-1][pick]
        share = np.clip((to * pieces).sum(axis=1) / lengths**2, 0.0, 1.0)
        away = to - pieces * share[:, None]
        distances = np.hypot(away[:, 0], away[:, 1])
        at = int(distances.argmin())
        self.along = float(self._up_to[:-1][pick][at] + share[at] * lengths[at])
        left = pieces[at, 0] * to[at, 1] - pieces[at, 1] * to[at, 0] >= 0
        return float(distances[at]) if left else -float(distances[at])

    @property
    def arrived(self) -> bool:
        """Whether the end of the way has been passed."""
        return self.along >= self.length

    @property
    def bend(self) -> int:
        """1 where the way turns left now or did a moment ago, -1 to the right, 0 where it is straight."""
        return int(self._bends[min(int(np.searchsorted(self._up_to, self.along)), len(self._bends) - 1)])

    def _bent(self, unit: float) -> "np.ndarray[tuple[int], np.dtype[np.int64]]":
        """The side each point's bend turns to; a bend goes on for a quarter of a unit behind its end."""
        bends = np.zeros(len(self._points), np.int64)
        headings = np.unwrap(np.arctan2(self._pieces[:, 1], self._pieces[:, 0]))
        for number in range(1, len(self._pieces)):
            between = (self._lengths[number - 1] + self._lengths[number]) / 2
            curvature = (headings[number] - headings[number - 1]) / between
            if abs(curvature) > BENT / unit:
                behind = self._up_to - self._up_to[number]
                bends[(behind >= 0) & (behind <= unit / 4)] = 1 if curvature > 0 else -1
        return bends
