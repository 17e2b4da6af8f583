"""A drive over time in few enough points to draw: highest, lowest and mean of every tenth of a second."""

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.plant.parts.robot import Robot
from mixer.plant.step.layout import heated_outputs
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Floats, Stretch

BUCKET_MS = 100
MOST_POINTS = 500
"""More than these nobody sees on a page."""
_MERGES: Mapping[str, Callable[..., Floats]] = {
    "least": np.minimum.reduceat, "most": np.maximum.reduceat, "mean": np.add.reduceat,
}  # fmt: skip


class Timeline:
    """A sink. Series: ``travel.NAME``, ``live``, ``volts``, ``amps``, ``speed`` and ``winding``."""

    def __init__(self, plan: Plan, robot: Robot | None) -> None:
        self._every, self._tick_s = max(BUCKET_MS // plan.tick_ms, 1), plan.tick_ms / 1000
        places = layout_of(plan).places
        self._state = places.guard.state
        self._sticks = {stick.name: at.scaled for stick, at in zip(plan.sticks, places.sticks, strict=True)}
        self._robot, self._place = robot, dict[str, int]()
        if robot is not None:
            self._place = {name: place for place, name in enumerate(plant_columns(robot))}
            names = (robot.outputs[index].name for index in heated_outputs(robot))
            self._heat = [self._place[f"output.{name}.winding_rise"] for name in names]
        self._left: list[Floats] = []
        self._parts: list[list[Floats]] = []
        self.names = [f"{name}.{how}" for name, hows, _ in self._series() for how in hows]

    def _series(self) -> list[tuple[str, tuple[str, ...], Callable[[Stretch], Floats]]]:
        """Name, merges, and how it comes from a stretch."""
        both, place = ("least", "most"), self._place
        series: list[tuple[str, tuple[str, ...], Callable[[Stretch], Floats]]] = [
            (f"travel.{name}", both, lambda s, at=at: s.signals[:, at] / ONE)  # type: ignore[misc]
            for name, at in self._sticks.items()
        ]
        series.append(("live", ("mean",), lambda s: (s.signals[:, self._state] == Guard.LIVE) * 1.0))
        if self._robot is None:
            return series
        air = self._robot.air_c
        series += [
            ("volts", ("least",), lambda s: _plant(s)[:, place["lowest_v"]]),
            ("amps", ("most",), lambda s: _plant(s)[:, place["battery_first_a"]]),
            ("speed", ("mean",), lambda s: np.hypot(_plant(s)[:, place["vx"]], _plant(s)[:, place["vy"]])),
        ]
        if self._heat:
            series.append(("winding", ("most",), lambda s: air + _plant(s)[:, self._heat].max(axis=1)))
        return series

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        rows = [values(stretch) for _, _, values in self._series()]
        if self._left:
            rows = [np.concatenate(pair) for pair in zip(self._left, rows, strict=True)]
        whole = len(rows[0]) // self._every * self._every
        self._left = [row[whole:] for row in rows]
        if whole:
            self._parts.append(self._merged([row[:whole] for row in rows], self._every))

    def _merged(self, rows: list[Floats], every: int) -> list[Floats]:
        starts = np.arange(0, len(rows[0]), every)
        merged = []
        for row, (_, hows, _) in zip(rows, self._series(), strict=True):
            merged += [_of_each(how, row, starts) for how in hows]
        return merged

    def points(self) -> dict[str, Floats]:
        """Series by name, with ``.least``, ``.most`` or ``.mean`` behind, and ``t`` in s: equally long."""
        parts = list(self._parts)
        if self._left and len(self._left[0]):
            parts.append(self._merged(self._left, self._every))
        if not parts:
            return {"t": np.zeros(0), **{name: np.zeros(0) for name in self.names}}
        columns = dict(zip(self.names, map(np.concatenate, zip(*parts, strict=True)), strict=True))
        count = len(columns["live.mean"])
        every = -(-count // MOST_POINTS)
        starts = np.arange(0, count, every)
        told: dict[str, Floats] = {"t": np.asarray(starts * self._every * self._tick_s, np.float64)}
        for name, values in columns.items():
            told[name] = _of_each(name.rpartition(".")[2], values, starts)
        return told


def _of_each(how: str, values: Floats, starts: NDArray[np.int64]) -> Floats:
    """Lowest, highest or mean of every piece of a series, by where the pieces begin."""
    merged = _MERGES[how](values, starts)
    return merged / np.diff(starts, append=len(values)) if how == "mean" else merged


def _plant(stretch: Stretch) -> Floats:
    assert stretch.plant is not None
    return stretch.plant
