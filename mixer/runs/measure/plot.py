"""A drive drawn as SVG: what the sticks asked of the motors, and what that did to battery, floor and heat.

matplotlib is imported here and nowhere else, when somebody asks for a drawing; `plotter` is its one door.
"""

import io
from collections.abc import Iterator
from importlib import import_module
from math import degrees
from pathlib import Path
from typing import Any

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.errors import MissingToolError, OptionError
from mixer.plant.parts.robot import Robot
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Floats, Stretch

CREATOR = "stickwright replay --plot"
"""Stands near the beginning of every drawing."""
SAMPLE_MS = 20
"""A drawing needs no finer steps; memory stays small for long drives."""


class Sampled:
    """Collects every `SAMPLE_MS` of a run with physics: a sink."""

    def __init__(self, plan: Plan, robot: Robot) -> None:
        self.plan, self.robot = plan, robot
        self._every = max(1, SAMPLE_MS // plan.tick_ms)
        self._places = [output.command for output in layout_of(plan).places.outputs]
        self._seconds: list[Floats] = []
        self._commands: list[Floats] = []
        self._plant: list[Floats] = []

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        assert stretch.plant is not None
        ticks = np.arange(stretch.first_tick, stretch.first_tick + len(stretch.plant))
        chosen = ticks % self._every == 0
        self._seconds.append(ticks[chosen] * self.plan.tick_ms / 1000)
        self._commands.append(stretch.signals[chosen][:, self._places] / ONE)
        self._plant.append(stretch.plant[chosen])

    @property
    def seconds(self) -> Floats:
        """Time of each sample."""
        return np.concatenate(self._seconds)

    @property
    def commands(self) -> Floats:
        """(samples, outputs), a share of full."""
        return np.concatenate(self._commands)

    def column(self, name: str) -> Floats:
        """One plant column over time."""
        place = plant_columns(self.robot).index(name)
        return np.concatenate([part[:, place] for part in self._plant])


def check_drawing(path: Path) -> None:
    """Raises MissingToolError without matplotlib and OptionError for a bad path, before a long drive."""
    if path.suffix.lower() != ".svg":
        raise OptionError(f"--plot {path} is no SVG", "name a file that ends in .svg")
    plotter()


def drawing(sampled: Sampled, title: str) -> bytes:
    """The drive as an SVG. Raises MissingToolError without matplotlib."""
    pyplot, rc_context = plotter()
    with rc_context({"svg.hashsalt": "stickwright", "font.size": 9, "axes.grid": True, "grid.alpha": 0.3}):
        panels = list(_panels(sampled))
        figure, axes = pyplot.subplots(
            len(panels),
            1,
            sharex=True,
            figsize=(10, 1.9 * len(panels)),
            layout="constrained",
            squeeze=False,
        )
        figure.suptitle(title)
        for axis, (label, lines) in zip(axes[:, 0], panels, strict=True):
            for name, values in lines:
                axis.plot(sampled.seconds, values, label=name, linewidth=0.9)
            axis.set_ylabel(label)
            axis.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=7)
        axes[-1, 0].set_xlabel("s")
        svg = io.BytesIO()
        # Without a date the same drive gives the same file.
        figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": CREATOR})
        pyplot.close(figure)
    return svg.getvalue()


def _panels(sampled: Sampled) -> Iterator[tuple[str, list[tuple[str, Floats]]]]:
    outputs = [output.name for output in sampled.robot.outputs]
    names = [output.name for output in sampled.plan.outputs]
    yield "command, share of full", [(name, sampled.commands[:, i]) for i, name in enumerate(names)]
    yield "current, A", [(name, sampled.column(f"output.{name}.current")) for name in outputs]
    yield "battery, V", [("volts", sampled.column("bus_v"))]
    if sampled.robot.wheels:
        yield "speed, m/s", [("ahead", sampled.column("vx")), ("sideways", sampled.column("vy"))]
        yield "turning, °/s", [("left", np.vectorize(degrees)(sampled.column("turn")))]
    columns = plant_columns(sampled.robot)
    heated = [name for name in outputs if f"output.{name}.winding_rise" in columns]
    if heated:
        air = sampled.robot.air_c
        yield (
            "winding, °C",
            [(name, air + sampled.column(f"output.{name}.winding_rise")) for name in heated],
        )
    if sampled.robot.actuators:
        yield (
            "extended, mm",
            [
                (a.name, 1000 * sampled.column(f"actuator.{a.name}.extension"))
                for a in sampled.robot.actuators
            ],
        )


def plotter() -> tuple[Any, Any]:
    """Matplotlib's pyplot and rc_context. Raises MissingToolError where it is not installed."""
    try:
        matplotlib = import_module("matplotlib")
    except ImportError as error:
        raise MissingToolError("drawing needs matplotlib", "pip install matplotlib") from error
    matplotlib.use("Agg")
    return import_module("matplotlib.pyplot"), matplotlib.rc_context
