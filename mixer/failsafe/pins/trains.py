"""What goes wrong on a pulse-sum wire alone, where all channels come one after the other.

A train says by its number of pulses alone which channel is which; one with a pulse more or less must not
count. The hands and the receiver are healthy throughout.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from mixer.failsafe.pins.wires.onto import Spoiled, whole
from mixer.faults.fault import Fault
from mixer.faults.radio import ChannelLost

SPIKE_US = 200
"""Where in a channel's pulse a spike parts it: after the pulse that is high for less than that."""
FILLED_US = 1500
"""From one rise to the next where there is no gap to be seen."""
NOISE_US = 300
"""From one spike of noise to the next, on average."""
SOME = 4
"""One train in so many, where it is only some."""


@dataclass(frozen=True, slots=True)
class TrainFault(Fault):
    """One thing that goes wrong with trains."""

    spoiled: Spoiled = whole


def train_faults(frame_us: int) -> Iterator[Fault]:
    """All of them, for trains that come once in a frame."""
    cases: tuple[tuple[str, str, Spoiled, bool], ...] = (
        ("merged", "Of every train one pulse is missing.", _merged, True),
        ("parted", "In every train a spike parts a channel in two.", _parted, True),
        ("no-gap", "No gap parts the trains: pulses come without end.", partial(_unending, frame_us), True),
        ("noise", "Spikes lie on the wire all the time.", partial(_noisy, frame_us), True),
        ("some-merged", f"Of one train in {SOME} a pulse is missing.", partial(_some, _merged), False),
        ("some-parted", f"In one train in {SOME} a spike parts a channel.", partial(_some, _parted), False),
    )
    for key, words, spoiled, gone in cases:
        yield TrainFault(f"train.{key}", words, radio_gone=gone, spoiled=spoiled)


def in_a_train(fault: Fault) -> Fault:
    """One of the campaign's faults, said as it is on a pulse-sum wire."""
    if not isinstance(fault, ChannelLost):
        return fault
    name = fault.key.partition(".")[2]
    return replace(
        fault, words=f"The receiver leaves {name} out of its trains: a slot too short for a pulse."
    )


def _merged(number: int, rises: list[int]) -> list[int]:
    """Two channels run together, in each train the next two."""
    left_out = 1 + number % (len(rises) - 2)
    return rises[:left_out] + rises[left_out + 1 :]


def _parted(number: int, rises: list[int]) -> list[int]:
    return sorted([*rises, rises[number % (len(rises) - 1)] + SPIKE_US])


def _unending(frame_us: int, number: int, rises: list[int]) -> list[int]:
    del number
    return [*rises, *range(rises[-1] + FILLED_US, frame_us, FILLED_US)]


def _noisy(frame_us: int, number: int, rises: list[int]) -> list[int]:
    steps = np.random.default_rng(number).exponential(NOISE_US, frame_us // NOISE_US)
    return sorted({*rises, *(int(us) for us in np.cumsum(steps) if us < frame_us)})


def _some(spoiled: Spoiled, number: int, rises: list[int]) -> list[int]:
    return rises if number % SOME else spoiled(number, rises)
