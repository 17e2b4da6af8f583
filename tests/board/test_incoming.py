"""What a receiver sends is said once: promise, players, judge and firmware agree about it."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import mixer.board
from mixer.board.chip.chip import Seen
from mixer.board.engine.receiver import Receiver
from mixer.board.incoming import GAP_US, HANGS_US, HIGH_US, rises_us, train_edges
from mixer.board.pins.wires import Pins
from mixer.core.plan import Plan
from mixer.failsafe.pins.trains import SPIKE_US
from mixer.failsafe.pins.wires import carried
from mixer.failsafe.pins.wires.onto import TrainWire, whole
from mixer.failsafe.pins.wires.outside import Outside
from mixer.failsafe.report.stop import stop_of
from mixer.profile.profile import Profile, parse_profile
from tests.link.reader import Reader

PROFILES = Path(__file__).parents[2] / "profiles"
FIRMWARE = Path(mixer.board.__file__).with_name("firmware")
HZ = 2_000_000
"""Of a chip whose cycles are the reader's half microseconds."""
FRAME = HZ // 50
SLOTS = 8
PULSES = ([1101, 1502, 1903], [1200, 0, 1800], [2500, 2500, 2500])
"""The channels' pulses of some frames in µs, none near a decision; 0: missing. None is longer."""

Edges = list[tuple[int, int]]


class Silent:
    """A chip that only lets time pass."""

    hz = HZ

    def __init__(self) -> None:
        self.cycle = 0

    def run(self, until: int, edges: object) -> Seen:
        """Nothing is seen."""
        del edges
        self.cycle = until
        return Seen([], [], [], [])


def tank(wire: str, valid_us: str = "[800, 2200]") -> Profile:
    """The small example robot with its channels on one wire, or on a wire each."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    return parse_profile(f'{text}\n[receiver]\nwire = "{wire}"\nvalid_us = {valid_us}\n', "tank")


def pins_of(plan: Plan) -> Pins:
    """One wire, on which its channels stand where the receiver has them."""
    return Pins(("A",) * len(plan.channels), (), (), "", SLOTS, plan.receivers)


def by_the_engine(plan: Plan) -> Edges:
    """As a log's rows come onto a chip's pins."""
    receiver = Receiver(pins_of(plan), HZ, FRAME, [])
    edges = receiver.prelude(2 * FRAME + receiver.lead)
    for row, pulses in enumerate(PULSES):
        planned, played = receiver.edges(row, pulses, (row + 4) * FRAME)
        assert played == pulses
        edges += planned
    return [(edge.cycle, edge.level) for edge in sorted(edges)]


def by_the_campaign(plan: Plan) -> Edges:
    """As the campaign's faults come there."""
    outside = Outside(Silent(), pins_of(plan))  # type: ignore[arg-type]
    wire = TrainWire(plan, outside, len(PULSES), whole)
    free = wire.begin()
    for number, pulses in enumerate(PULSES):
        wire.plan(number, [free + (number + 2) * FRAME] * len(pulses), pulses)
    outside.run(free + 6 * FRAME)
    return outside.played["A"]


def read(edges: Edges) -> Iterator[list[int]]:
    """Every train that the firmware's reader takes, its widths in half µs."""
    reader = Reader(SLOTS, pulse_sum=True)
    for time, level in [*edges, (edges[-1][0] + FRAME, 0)]:
        reader.edge(time, level)
        widths = reader.take()
        if any(widths):
            yield widths


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize("played", [by_the_engine, by_the_campaign])
def test_trains_are_read_as_they_were_meant(played: Callable[[Plan], Edges]) -> None:
    """By the firmware's own reader and by who judges it: to the half µs, the longest slots as well."""
    plan = tank("pulse-sum").plan(None)
    edges = played(plan)
    meant = [[2 * (pulse or 400) for pulse in pulses] for pulses in PULSES]

    taken = list(read(edges))
    judged = carried.carried(pins_of(plan), {"A": edges}, HZ / 1e6)

    assert [[widths[slot - 1] for slot in plan.receivers] for widths in taken] == meant
    assert [[2 * pulse.us for pulse in one] for one in zip(*judged, strict=True)] == meant


def test_the_firmware_and_the_judge_end_a_train_where_it_ends() -> None:
    """`GAP` and `LONGEST` of reader.c, in half µs, and the judge's own numbers."""
    source = (FIRMWARE / "reader.c").read_text(encoding="utf-8")
    said = {name: int(number) for name, number in re.findall(r"#define (\w+) (\d+)U\b", source)}

    assert (said["GAP"], said["LONGEST"]) == (2 * GAP_US, 2 * HANGS_US)
    assert (carried.GAP_US, carried.LONGEST_US) == (GAP_US, HANGS_US)


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize("late", [0, 1])
def test_a_gap_is_over_when_the_promise_counts_it_over(late: int) -> None:
    """Eight slots as long as they can be: the train is known in the time that is promised, not before."""
    promised = round(2000 * dict(stop_of(tank("pulse-sum"), None).parts)["train of pulses"])
    reader = Reader(SLOTS, pulse_sum=True)
    rises = rises_us(SLOTS, [(slot, 2500) for slot in range(1, SLOTS + 1)])
    for begins in (0, FRAME + 20_000):
        for edge in train_edges("A", begins, rises, HZ / 1e6):
            reader.edge(edge.cycle, edge.level)
        reader.watch(begins + promised + late)
        widths = reader.take()

    assert promised == 2 * (8 * 2500 + 2700)
    assert widths == [5000 * late] * SLOTS


def test_a_spike_parts_a_pulse_after_it_has_fallen() -> None:
    """Else the wire would be high already, and the fault `train.parted` none."""
    assert HIGH_US < SPIKE_US


def test_a_wire_each_is_promised_for_its_longest_pulse() -> None:
    """A pulse is known when it ends: 2.5 ms by common practice, or the longest that counts."""
    assert stop_of(tank("channels"), None).parts[0] == ("pulse", 2.5)
    assert stop_of(tank("channels", "[800, 3900]"), None).parts[0] == ("pulse", 3.9)
