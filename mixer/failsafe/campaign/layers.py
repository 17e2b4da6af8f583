"""The single faults of a scene, each once, over all the lanes it acts on, alone or as one of two.

A pair of faults has few lanes and there are hundreds of pairs: asked by themselves they cost more than
all the rest. Of two faults at once the second acts on what the first has left.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.core.plan import Plan
from mixer.faults.both import Both
from mixer.faults.fault import Fault, Flags, Ints, Seeds
from mixer.plant.parts.damage import deaf_to, skips

Numbers = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Batch:
    """Scenarios of one fault: which of its lanes."""

    fault: Fault
    lanes: range


@dataclass(frozen=True, slots=True)
class Layer:
    """One single fault and where it acts."""

    fault: Fault
    any_tick: bool
    """Whether pulses may come between frames, by this fault or by the one beside it."""
    lanes: Numbers
    seed: Seeds
    pushed: Ints
    """(channels, lanes): the pulses of the operating points."""


def layers_of(
    batches: Sequence[Batch], slices: Sequence[slice], seed: Seeds, pushed: Ints
) -> tuple[Layer, ...]:
    """In the order in which they act."""
    found: dict[tuple[int, Fault, bool], list[Numbers]] = {}
    for batch, part in zip(batches, slices, strict=True):
        for rank, fault in enumerate(_singles(batch.fault)):
            lanes = np.arange(part.start, part.stop)
            found.setdefault((rank, fault, batch.fault.any_tick), []).append(lanes)
    layers = []
    for (_, fault, any_tick), parts in sorted(found.items(), key=lambda item: item[0][0]):
        lanes = np.concatenate(parts)
        layers.append(Layer(fault, any_tick, lanes, seed[lanes], pushed[:, lanes]))
    return tuple(layers)


def _singles(fault: Fault) -> Iterator[Fault]:
    if isinstance(fault, Both):
        yield from _singles(fault.first)
        yield from _singles(fault.second)
    else:
        yield fault


class BrokenScrews:
    """What moves each actuator of a scene where something of it is broken."""

    def __init__(self, plan: Plan, batches: Sequence[Batch], slices: Sequence[slice]) -> None:
        shape = len(plan.actuators), slices[-1].stop
        self.duty = np.full(shape, np.nan)
        """(actuators, lanes): the duty whatever its output is told; not a number where it listens."""
        self.ahead: Flags = np.zeros(shape, np.bool_)
        """(actuators, lanes): where it jumps ahead as the fault sets in."""
        for batch, part in zip(batches, slices, strict=True):
            for number, actuator in enumerate(plan.actuators if batch.fault.damage else ()):
                name, output = actuator.name, plan.outputs[actuator.output].name
                deaf = deaf_to(batch.fault.damage, output, name)
                self.duty[number, part] = np.nan if deaf is None else deaf
                self.ahead[number, part] = skips(batch.fault.damage, name)
        self.deaf: Flags = ~np.isnan(self.duty)
