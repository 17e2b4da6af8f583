"""A review's pictures: SVG that takes its colours and its type from the page around it.

matplotlib draws with stand-in colours; each becomes a CSS variable, so that one drawing serves light, dark
and paper. Without a date and with fixed names the same drives give the same bytes.
"""

import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from mixer.markup import Markup, element
from mixer.review.drive import DriveReview
from mixer.review.sticks import BINS
from mixer.runs.measure.plot import plotter
from mixer.runs.play.stretch import Floats

MOST_LINES = 6
"""So many colours can be told apart (Okabe & Ito 2008); more drives begin again, with dashes."""
INK, GRID, PAUSE, MARK = "#000001", "#000002", "#000003", "#000004"
_LINES = tuple(f"#0000{number:02x}" for number in range(16, 16 + MOST_LINES))
_VARIABLES = {INK: "--ink", GRID: "--hair", PAUSE: "--pause", MARK: "--mark"} | {
    colour: f"--line-{number}" for number, colour in enumerate(_LINES, start=1)
}
_LOOK = {
    "svg.fonttype": "none", "font.size": 9, "text.color": INK, "axes.labelcolor": INK, "xtick.color": INK,
    "ytick.color": INK, "axes.edgecolor": GRID, "grid.color": GRID, "grid.linewidth": 0.5,
    "axes.grid": True,
    "axes.facecolor": "none", "figure.facecolor": "none", "savefig.facecolor": "none",
    "axes.spines.top": False, "axes.spines.right": False, "legend.frameon": False,
}  # fmt: skip


def histograms(drives: Sequence[DriveReview]) -> Markup:
    """Where each stick was, by every drive that has it: share of the live time over the stick's travel."""
    return _picture(
        "histograms", "How long each stick was where in its travel", lambda pyplot: _bars(pyplot, drives)
    )


def timeline(review: DriveReview, points: Mapping[str, Floats]) -> Markup:
    """A drive over time: sticks, battery, speed, heat; times not live shaded, moments numbered."""
    label = "The drive over time; shaded where the robot was not live"
    return _picture(f"timeline {review.log}", label, lambda pyplot: _course(pyplot, review, points))


def _bars(pyplot: Any, drives: Sequence[DriveReview]) -> Any:  # noqa: ANN401  matplotlib has no types
    names = list(dict.fromkeys(stick.name for drive in drives for stick in drive.sticks))
    places = (np.arange(BINS) + 0.5) / BINS * 200 - 100
    figure, axes = _panels_below(pyplot, len(names), 1.5)
    for axis, name in zip(axes, names, strict=True):
        for number, drive in enumerate(drives):
            for stick in (stick for stick in drive.sticks if stick.name == name):
                shares = np.array(stick.histogram) * 100
                axis.step(places, shares, where="mid", **_line(number), label=str(number + 1))
        axis.set_yscale("symlog", linthresh=1)
        axis.set_yticks([0, 1, 10, 100], ["0", "1", "10", "100"])
        axis.set_ylabel(name)
    if len(drives) > 1:
        axes[0].legend(title="drive", loc="upper left", bbox_to_anchor=(1, 1))
    axes[-1].set_xlabel("stick, % of its travel (upright: % of the live time)")
    return figure


def _course(pyplot: Any, review: DriveReview, points: Mapping[str, Floats]) -> Any:  # noqa: ANN401
    panels = list(_panels(review, points))
    figure, axes = _panels_below(pyplot, len(panels), 1.1)
    for axis, (label, low, high) in zip(axes, panels, strict=True):
        axis.set_ylabel(label, rotation=0, ha="right", va="center")
        _mark(axis, review)
        if low is None:
            axis.plot(points["t"], high, linewidth=1, color=_LINES[0])
        else:
            axis.fill_between(points["t"], low, high, step="mid", linewidth=0.6, color=_LINES[0])
            axis.set_ylim(-105, 105)
    for number, moment in enumerate(review.moments, start=1):
        at = (moment.at_s, 1.03)
        axes[0].annotate(str(number), at, xycoords=("data", "axes fraction"), ha="center", color=MARK)
    axes[-1].set_xlabel("s")
    axes[-1].set_xlim(0, max(review.drive.duration_s, 1e-3))
    return figure


def _panels_below(pyplot: Any, count: int, high: float) -> tuple[Any, Sequence[Any]]:  # noqa: ANN401
    size = (9.2, high * count + 0.6)
    figure, axes = pyplot.subplots(count, 1, figsize=size, sharex=True, layout="constrained", squeeze=False)
    return figure, axes[:, 0]


def _panels(
    review: DriveReview, points: Mapping[str, Floats]
) -> Iterable[tuple[str, Floats | None, Floats]]:
    for stick in review.sticks:
        low, high = (points[f"travel.{stick.name}.{end}"] * 100 for end in ("least", "most"))
        yield f"{stick.name}\n%", low, high
    for label, name in (
        ("battery\nleast V", "volts.least"), ("battery\nmost A", "amps.most"), ("speed\nm/s", "speed.mean"),
        ("hottest\nwinding °C", "winding.most"),
    ):  # fmt: skip
        if name in points:
            yield label, None, points[name]


def _mark(axis: Any, review: DriveReview) -> None:  # noqa: ANN401  matplotlib has no types
    for pause in review.pauses:
        axis.axvspan(pause.at_s, pause.at_s + pause.lasted_s, color=PAUSE, linewidth=0, zorder=0)
    for moment in review.moments:
        axis.axvline(moment.at_s, color=MARK, linewidth=0.8, linestyle=(0, (3, 2)))


def _line(number: int) -> dict[str, Any]:
    dashes = ("-", "--", ":")[number // MOST_LINES % 3]
    return {"color": _LINES[number % MOST_LINES], "linestyle": dashes, "linewidth": 1.3}


def _picture(name: str, label: str, draw: Callable[[Any], Any]) -> Markup:
    """What `draw` makes of pyplot in the page's look."""
    pyplot, rc_context = plotter()
    svg = io.StringIO()
    with rc_context({**_LOOK, "svg.hashsalt": name}):
        figure = draw(pyplot)
        figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": None})
        pyplot.close(figure)
    return element("div", Markup(_inlined(svg.getvalue())), class_="picture", role="img", aria_label=label)


def _inlined(svg: str) -> str:
    """The drawing as it may stand in a page: colours as variables, only names that something refers to."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    used = set(re.findall(r'(?:url\(#|href="#)([^")]+)', svg))
    svg = re.sub(r' id="([^"]+)"', lambda found: found[0] if found[1] in used else "", svg)
    svg = re.sub(r"#0000[01][0-9a-f]\b", lambda found: f"var({_VARIABLES[found[0]]})", svg)
    svg = re.sub(r"font: [\d.]+px [^;\"]*", lambda found: found[0].split("px")[0] + "px sans-serif", svg)
    return re.sub(r' (width|height)="[\d.]+pt"', "", svg, count=2)
