"""Short drives as rows, and an image beside the core on them."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from mixer.board.chip.chip import Chip, Edge, Seen, Train
from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account, Parity
from mixer.board.engine.run import ImageRun
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.rest import arming, frame_ticks, resting_inputs
from mixer.runs.play.engines import make_engine


def short_drive(plan: Plan, frames: int = 40, seed: int = 1) -> list[list[int]]:
    """Armed, then every stick somewhere else each frame, two frames missing, and then none at all."""
    every = frame_ticks(plan)
    rng = np.random.default_rng(seed)
    rest = resting_inputs(plan, armed=True)
    sticks = [stick.channel for stick in plan.sticks]
    quiet = [0] * len(plan.channels) + rest[len(plan.channels) :]
    rows = arming(plan, every)
    for frame in range(frames):
        pulses = list(rest)
        for channel in sticks:
            pulses[channel] = int(rng.choice([1000, 2000, rng.integers(1000, 2001), 1490]))
        rows += [quiet if frame in (20, 21) else pulses, *[quiet] * (every - 1)]
    return rows + [quiet] * (400 // plan.tick_ms)


class Meddled:
    """A chip with something between its pins and whoever looks at them."""

    def __init__(self, chip: Chip, meddle: Callable[[Seen], Seen]) -> None:
        self._chip, self._meddle = chip, meddle
        self.hz = chip.hz

    @property
    def cycle(self) -> int:
        """The chip's own."""
        return self._chip.cycle

    def run(self, until: int, edges: Sequence[Edge] = ()) -> Seen:
        """The chip's, meddled with."""
        return self._meddle(self._chip.run(until, edges))

    def close(self) -> None:
        """Off."""
        self._chip.close()


def inverted(pin: str) -> Callable[[Seen], Seen]:
    """A wire that gives low for high."""

    def meddle(seen: Seen) -> Seen:
        edges = [
            edge._replace(level=1 - edge.level) if edge.pin == pin and edge.level >= 0 else edge
            for edge in seen.edges
        ]
        kept = [train for train in seen.trains if train.pin != pin]
        for train in (train for train in seen.trains if train.pin == pin):
            for n in range(train.repeats):
                rise = train.cycle + n * train.period
                edges += (Edge(rise, pin, 0), Edge(rise + train.high, pin, 1))
        return seen._replace(edges=sorted(edges), trains=kept)

    return meddle


def stretched(pin: str, cycles: int) -> Callable[[Seen], Seen]:
    """A wire whose falls come late."""

    def late(train: Train) -> Train:
        return train._replace(high=train.high + cycles) if train.pin == pin else train

    def meddle(seen: Seen) -> Seen:
        edges = [
            edge._replace(cycle=edge.cycle + cycles) if edge.pin == pin and edge.level == 0 else edge
            for edge in seen.edges
        ]
        return seen._replace(edges=sorted(edges), trains=[late(train) for train in seen.trains])

    return meddle


def compared(
    flashed: Flashed,
    rows: Sequence[Sequence[int]],
    *,
    plan: Plan | None = None,
    meddle: Callable[[Seen], Seen] | None = None,
) -> Account:
    """The image against the core of its plan, or of another one."""
    run: ImageRun = flashed.power_up()
    if meddle is not None:
        run.chip = Meddled(run.chip, meddle)  # type: ignore[assignment]
    plan = plan or flashed.plan
    core, places = make_engine("python", plan), layout_of(plan).places
    wanted = [*(output.wire for output in places.outputs), places.guard.state]
    parity = Parity(run, plan)
    ticks = [*run.feed(rows[:500]), *run.feed(rows[500:]), *run.finish()]
    assert len(ticks) == len(rows)
    parity.read(ticks)
    signals = [core.step(tick.inputs) for tick in ticks]
    parity.obeyed(ticks, [[row[place] for place in wanted] for row in signals])
    parity.shown()
    run.chip.close()
    return parity.account()


def with_outputs_swapped(flashed: Flashed) -> Flashed:
    """Somebody has soldered the first two outputs the wrong way round."""
    one, two, *rest = flashed.pins.outputs
    swapped = (replace(one, pin=two.pin, second=two.second), replace(two, pin=one.pin, second=one.second))
    return replace(flashed, pins=replace(flashed.pins, outputs=(*swapped, *rest)))


def with_channels_swapped(flashed: Flashed) -> Flashed:
    """The same for the first two channels."""
    one, two, *rest = flashed.pins.channels
    return replace(flashed, pins=replace(flashed.pins, channels=(two, one, *rest)))
