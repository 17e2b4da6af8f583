"""Signals of every tick as CSV (RFC 4180), for a plot or a spreadsheet."""

import csv
from collections.abc import Sequence
from fnmatch import fnmatchcase
from typing import TextIO

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import OptionError, offer
from mixer.runs.log.mapping import TIME
from mixer.runs.play.stretch import Stretch


def chosen_signals(plan: Plan, wanted: Sequence[str] = ()) -> tuple[str, ...]:
    """Names of signals; ``*`` and ``?`` stand for anything, nothing means wires and the guard.

    Raises OptionError for a pattern that fits no signal.
    """
    layout = layout_of(plan)
    names = layout.signals
    if not wanted:
        return (layout.names.guard.state, *(output.wire for output in layout.names.outputs))
    chosen: list[str] = []
    for pattern in wanted:
        found = [name for name in names if fnmatchcase(name, pattern)]
        if not found:
            raise OptionError(f"no signal {pattern!r}", offer(pattern, names, "signals"))
        chosen += [name for name in found if name not in chosen]
    return tuple(chosen)


class PerTickWriter:
    """Writes one line a tick to a text file opened with ``newline=""``.

    `more` names the plant's columns that follow the signals of a run with physics.
    """

    def __init__(self, file: TextIO, plan: Plan, signals: Sequence[str], more: Sequence[str] = ()) -> None:
        layout = layout_of(plan)
        self._tick_ms = plan.tick_ms
        self._places = [layout.index(name) for name in signals]
        self._writer = csv.writer(file, lineterminator="\r\n")
        self._writer.writerow([TIME, *signals, *more])

    def add(self, stretch: Stretch) -> None:
        """One line a tick; the plant's columns follow where the run has physics."""
        rows = stretch.signals[:, self._places].tolist()
        if stretch.plant is not None:
            rows = [
                row + [f"{value:.6g}" for value in extra]
                for row, extra in zip(rows, stretch.plant.tolist(), strict=True)
            ]
        ticks = range(stretch.first_tick, stretch.first_tick + len(rows))
        self._writer.writerows([tick * self._tick_ms, *row] for tick, row in zip(ticks, rows, strict=True))
