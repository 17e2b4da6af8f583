"""The whole firmware on the simulated RP2040, from the receiver's pulses to the pins of the outputs.

What the chip is taken to do is in the RP2040 data sheet, and what the simulator adds to it has tests of its
own (tests/board/chip). Nothing here was compared with silicon.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import pytest

from mixer.board.chip.chip import UNDRIVEN, Edge, Reset, Seen, edges_of
from mixer.board.frames import Frame, Identity
from mixer.core.plan import Guard
from mixer.link.binding import Binding
from mixer.link.parity import Parity
from tests.board.rp2040_robot import CARRIER, MS, TICK_PIN, TRIO, US, Robot
from tests.lengths import cases

pytestmark = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]

DUTY_PERIOD = 255 * 25
"""Cycles: 255 counts of 25, so 20,078 Hz (data sheet 4.5.2)."""
DUTIES = {"GP0": "GP1", "GP2": "GP3", "GP8": "GP9", "GP10": "GP11"}
"""Duty pins of the carrier and their direction pins; the other two outputs are bridges."""


def carrier(at: float) -> Sequence[float]:
    """Steering, throttle, tip, -, arm, pace: at rest, armed, a drive, silence, armed again."""
    within = at % 2000
    if within >= 1500:
        return (0, 0, 0, 0, 0, 0)
    if within < 800:
        return (1500, 1500, 1500, 1500, 1000 if within < 200 else 2000, 2000)
    swing = int(at * 7.3) % 800
    return (1500 + (swing - 400) // 3, 1100 + swing, 1900 - swing, 1500, 2000, 2000)


def trio(at: float) -> Sequence[float]:
    """Sideways, ahead, -, turn, -, -, arm."""
    if at < 900:
        return (1500, 1500, 1500, 1500, 1500, 1500, 1000 if at < 200 else 2000)
    swing = int(at * 3.7) % 700
    return (1150 + swing, 1850 - swing, 1500, 1300 + swing // 2, 1500, 1500, 2000)


DRIVES_MS = 1100
"""When the carrier is amid its first drive."""
Power = Callable[[str, str], Robot]


@pytest.fixture
def power() -> Iterator[Power]:
    """Powers robots, each with its wires, and switches them off in the end."""
    running: list[Robot] = []

    def powered(robot: str, wiring: str) -> Robot:
        running.append(Robot(robot, wiring))
        return running[-1]

    yield powered
    for robot in running:
        robot.chip.close()


def silence(_: float) -> Sequence[float]:
    """No receiver."""
    return ()


Levels = list[tuple[int, int]]
"""Cycle and level of each edge on a pin."""


def on_pins(seen: Sequence[Seen]) -> dict[str, Levels]:
    """The edges of each pin, in one pass: trains are long."""
    found: dict[str, Levels] = defaultdict(list)
    for part in seen:
        for cycle, pin, level in edges_of(part):
            found[pin].append((cycle, level))
    return found


def on(pin: str, seen: Sequence[Seen]) -> Levels:
    """The edges of one pin alone."""
    return on_pins([part._replace(trains=[t for t in part.trains if t.pin == pin]) for part in seen])[pin]


def frames(robot: Robot) -> list[Frame]:
    """All that it has told, each frame one tick."""
    return [event for event in robot.events if isinstance(event, Frame)]


@cache
def driven(pieces: int) -> Robot:
    """The carrier after its drive, in so many pieces of 800 ms: what it told and showed; it is off."""
    robot = Robot("sample_carrier", CARRIER)
    for piece in range(pieces):
        robot.run((piece + 1) * 800, carrier)
    robot.chip.close()
    return robot


@pytest.mark.parametrize("pieces", cases([4], [150]))
def test_its_mix_is_the_core_s_on_every_tick(pieces: int) -> None:
    """Searching, at rest, armed, live, lost and armed again: no number of any frame differs."""
    robot = driven(pieces)
    parity, binding = Parity(robot.plan), Binding(robot.plan)
    bound = [binding.bound(event) if isinstance(event, Frame) else event for event in robot.events]
    assert parity.take(bound) == []
    told = frames(robot)
    assert parity.compared == len(told) > pieces * 400 - 40
    assert [frame.sequence for frame in told] == list(range(len(told))), "no frame is lost on the way"
    mixes = [frame.mix for frame in told if frame.mix]
    assert {mix.guard for mix in mixes} >= {Guard.SEARCHING, Guard.RESTING, Guard.LIVE, Guard.STOPPED}
    assert len({mix.wires for mix in mixes}) > 200, "the outputs hardly moved"


# ---- Outputs on their pins -------------------------------------------------------------------------


@dataclass
class Work:
    """When a tick's work began and ended, as its pin shows it: outputs are written before the end."""

    begin: int
    end: int


def works(shown: Sequence[Seen]) -> list[Work]:
    """Every tick of a run that has restarted nothing."""
    edges = [(cycle, level) for cycle, level in on(TICK_PIN, shown) if level >= 0]
    rises = [cycle for cycle, level in edges if level]
    falls = [cycle for cycle, level in edges[1:] if not level]
    return [Work(*pair) for pair in zip(rises, falls, strict=False)]


def pulses_in(edges: Levels) -> list[tuple[int, int]]:
    """Rise and high time of each whole pulse."""
    return [(a, b - a) for (a, level), (b, after) in pairwise(edges) if level == 1 and after == 0]


def of_pin(pin: str, shown: Sequence[Seen]) -> list[tuple[int, int]]:
    """The same of one pin alone."""
    return pulses_in(on(pin, shown))


def level_at(edges: Levels, cycle: int) -> int:
    """What a pin showed at a time."""
    return edges[bisect_right(edges, (cycle, 2)) - 1][1]


def test_pins_show_what_the_frames_say() -> None:
    """Every pulse of a tick is its wire's count, the direction its sign, a bridge's inputs both."""
    robot = driven(4)
    ticks, told = works(robot.shown), frames(robot)
    assert abs(len(ticks) - len(told)) <= 1
    levels = on_pins(robot.shown)
    found = {pin: pulses_in(levels[pin]) for pin in (f"GP{n}" for n in range(12))}
    checked = 0
    for (work, frame), (after, _) in pairwise(zip(ticks, told, strict=False)):
        # A turn of direction lasts three periods, and then the first new one begins.
        begin, end = work.end + 5 * DUTY_PERIOD, after.begin
        for k, wire in enumerate(frame.mix.wires if frame.mix else ()):
            first, second = f"GP{2 * k}", f"GP{2 * k + 1}"
            shown = {pin: _highs(found[pin], levels[pin], begin, end) for pin in (first, second)}
            if k in {2, 3}:
                forward, backward = (255, 255 - abs(wire)) if k == 3 else (abs(wire), 0)
                assert (shown[first], shown[second]) == (
                    ({forward}, {backward}) if wire >= 0 else ({backward}, {forward})
                ), f"tick {frame.sequence}, bridge {k}, wire {wire}"
            else:
                assert shown[first] == {abs(wire)}, f"tick {frame.sequence}, output {k}, wire {wire}"
                if wire:
                    assert level_at(levels[second], end) == (wire < 0)
            checked += 1
    assert checked > 6 * 1500
    assert any(frame.mix.wires[1] < 0 for frame in told if frame.mix)


def _highs(pulses: list[tuple[int, int]], levels: Levels, begin: int, end: int) -> set[int]:
    """The counts a pin shows between two times: of whole pulses, or 0 or 255 where it does not change."""
    inside = pulses[bisect_left(pulses, (begin, 0)) : bisect_left(pulses, (end - DUTY_PERIOD, 0))]
    if inside:
        assert all(b - a == DUTY_PERIOD for (a, _), (b, _) in pairwise(inside))
        assert all(high % 25 == 0 for _, high in inside)
        return {high // 25 for _, high in inside}
    changes = levels[bisect_right(levels, (begin, 2)) : bisect_left(levels, (end, UNDRIVEN))]
    return {255 * level for level in (level_at(levels, begin), *(level for _, level in changes))}


def test_a_direction_never_changes_under_a_duty(power: Power) -> None:
    """The duty pin is low for a whole period before, and after, whatever the wires do meanwhile."""
    robot = power("sample_carrier", CARRIER)
    robot.run(800, carrier)
    for n in range(48):  # as quick as slew and the rest before reversing let it turn
        robot.run(
            800 + 30 * (n + 1),
            lambda at: (1500, 1000 if int(at) // 100 % 2 else 2000, 1500, 1500, 2000, 2000),
        )
    turns = 0
    for duty, direction in DUTIES.items():
        levels = on(duty, robot.shown)
        for cycle, level in on(direction, robot.shown)[2:]:
            if level == UNDRIVEN:
                continue
            at = bisect_right(levels, (cycle, 2))
            assert levels[at - 1][1] == 0, f"{duty} is high while {direction} turns at {cycle}"
            assert cycle - levels[at - 1][0] >= DUTY_PERIOD
            assert at == len(levels) or levels[at][0] - cycle > 25 * US // 10
            turns += 1
    assert turns > 20


def test_a_bridge_s_inputs_change_together() -> None:
    """Both inputs are one slice's: at no instant is the one still driven and the other already."""
    robot = driven(4)
    for first, second, rest in (("GP6", "GP7", 1), ("GP4", "GP5", 0)):
        edges = sorted(
            (cycle, pin, level) for pin in (first, second) for cycle, level in on(pin, robot.shown)
        )
        state = {first: UNDRIVEN, second: UNDRIVEN}
        forced = set()
        for (cycle, pin, level), after in pairwise(edges):
            state[pin] = level
            if after[0] > cycle and state[first] != state[second] and UNDRIVEN not in state.values():
                forced.add(first if state[first] == 1 else second)
            if rest == 0:
                assert after[0] == cycle or state != {first: 1, second: 1}, (
                    "a coasting bridge is never braked"
                )
        assert forced == {first, second}


def test_servo_pulses_are_exact_whatever_edges_coincide(power: Power) -> None:
    """1500.000 µs and 20,000.000 µs while all channels rise at once, and whole µs all through a drive."""
    robot = power("holonomic_trio", TRIO)
    robot.run(800, trio, apart_us=0)
    at_rest = list(robot.shown)
    for pin in ("GP0", "GP1", "GP2"):
        assert {high for _, high in of_pin(pin, at_rest)} == {1500 * US}
        assert {b - a for (a, _), (b, _) in pairwise(of_pin(pin, at_rest))} == {20_000 * US}
    robot.run(2500, trio, apart_us=1.3)
    told = frames(robot)
    ticks = works(robot.shown)
    for k, pin in enumerate(("GP0", "GP1", "GP2")):
        pulses = of_pin(pin, robot.shown)
        assert {b - a for (a, _), (b, _) in pairwise(pulses)} == {20_000 * US}
        ends = [work.end for work in ticks]
        for rise, high in pulses:
            newest = bisect_left(ends, rise) - 1
            if newest < 0:
                continue
            wires = {told[n].mix.wires[k] for n in (newest, newest + 1) if n < len(told) and told[n].mix}
            assert high % US == 0
            assert high // US in wires
        assert len({high for _, high in pulses}) > 20


# ---- Reading -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("apart_us", cases([0.0], [2_210.0, 3.0, 0.7]))
def test_widths_are_read_to_a_microsecond(power: Power, apart_us: float) -> None:
    """Staggered channels, all at once, and a few µs apart, with widths that make falls coincide as well."""
    widths = [1500.0, 1499.3, 1500.25, 1497.0, 1503.3, 1000.6, 2000.4]
    robot = power("holonomic_trio", TRIO)
    robot.run(1500, lambda _: widths, apart_us)
    errors = [
        read / 2 - true
        for frame in frames(robot)
        for read, true in zip(frame.widths, widths, strict=True)
        if read
    ]
    assert len(errors) > 480
    assert -1 <= min(errors) <= max(errors) <= 1


def test_contacts_and_battery_are_read(power: Power) -> None:
    """Contacts are pulled up; 1.65 V of 3.3 V are half of what the divider makes full scale."""
    robot = power("sample_carrier", CARRIER)
    robot.chip.set_analog_mv("GP27", 1650)
    robot.run(200, silence)
    robot.chip.run(round(201 * MS), [Edge(200 * MS, "GP26", 0), Edge(200 * MS, "GP13", 0)])
    robot.run(300, silence)
    first, last = frames(robot)[3], frames(robot)[-1]
    assert (first.contacts, last.contacts) == (0b1111, 0b0101)
    assert last.battery_mv == 14_250


# ---- Starting, stopping ------------------------------------------------------------------------------


def noise(until_ms: float) -> Iterator[Edge]:
    """Every wire of the receiver and every contact chatters."""
    for n in range(int(until_ms * 1000 / 37)):
        for pin in (16, 17, 18, 19, 20, 21, 22, 26, 12, 13):
            yield Edge(round((n * 37 + pin * 3.1) * US), f"GP{pin}", (n * 7 + pin) % 3 % 2)


def test_it_starts_at_rest_edge_by_edge(power: Power) -> None:
    """Power comes, with noise on every wire: outputs float, then are low, or give whole rest pulses."""
    carrier_ = power("sample_carrier", CARRIER)
    seen = [carrier_.chip.run(160 * MS, sorted(noise(160)))]
    for k in (0, 1, 4, 5):
        for pin in (f"GP{2 * k}", f"GP{2 * k + 1}"):
            assert [level for _, level in on(pin, seen)] == [0], "it floats, and then it is low for good"
    assert [level for _, level in on("GP4", seen)] == [0]
    assert [level for _, level in on("GP5", seen)] == [0]
    braked = [on(pin, seen) for pin in ("GP6", "GP7")]
    assert [[level for _, level in edges] for edges in braked] == [[0, 1], [0, 1]]
    assert braked[0][1][0] == braked[1][1][0], "both inputs of the braking bridge at once"

    trio_ = power("holonomic_trio", TRIO)
    seen = [trio_.chip.run(160 * MS, sorted(noise(160)))]
    for pin in ("GP0", "GP1", "GP2"):
        edges = on(pin, seen)
        assert edges[0][1] == 0
        assert {b - a for (a, level), (b, _) in pairwise(edges) if level} == {1500 * US}
        assert edges[1][0] - edges[0][0] > 15_000 * US, "the first pulse is a whole one, a period later"


@pytest.mark.parametrize(
    "where", cases(["main"], ["io_bank0_interrupt", "reader_watch", "mix_tick", "hal_outputs", "hal_sleep"])
)
def test_a_hang_anywhere_floats_the_pins_in_time(power: Power, where: str) -> None:
    """The watchdog's 64 ms after the tick in which it comes there; pins float at once, then rest."""
    robot = power("sample_carrier", CARRIER)
    robot.run(DRIVES_MS, carrier)
    assert robot.shown[-1].trains, "it drives"
    robot.chip.hang(where if where != "main" else "")
    seen = robot.run(DRIVES_MS + 300, carrier)
    (bite,) = seen.resets
    assert bite[1] == Reset.WATCHDOG
    assert bite[0] <= DRIVES_MS * MS + (2 + 64) * MS
    for pin in (f"GP{n}" for n in range(12)):
        edges = [(cycle, level) for cycle, level in on(pin, [seen]) if cycle >= bite[0]]
        assert edges[0] == (bite[0], UNDRIVEN)
        # What comes after it is rest: low, and the braking bridge high, and no pulse at all.
        assert [level for _, level in edges[1:]] == ([0, 1] if pin in {"GP6", "GP7"} else [0])
    started = [event for event in robot.events if isinstance(event, Identity)]
    assert started[-1].started & 15 == Reset.WATCHDOG


@pytest.mark.long
def test_it_says_why_it_started(power: Power) -> None:
    """Power and brown-out are one bit of the chip; what RAM still holds tells them apart."""
    robot = power("sample_carrier", CARRIER)
    for n, (reason, said) in enumerate([(Reset.POWER, 1), (Reset.LOW_SUPPLY, 5), (Reset.PIN, 2)]):
        began = n * (DRIVES_MS + 200)
        seen = robot.run(began + DRIVES_MS, lambda at, began=began: carrier(at - began))
        assert seen.trains, "it drives"
        robot.chip.reset(reason, held=20 * MS)
        seen = robot.run(began + DRIVES_MS + 200, silence)
        assert seen.resets[0][1] == reason
        assert on("GP2", [seen])[-2:] == [(seen.resets[0][0], UNDRIVEN), on("GP2", [seen])[-1]]
        assert on("GP2", [seen])[-1][1] == 0
        identity = [event for event in robot.events if isinstance(event, Identity)][-1]
        assert (identity.started, identity.wiring) == (said, "3da13a33f4b7")


@pytest.mark.parametrize("number", cases([300], [200]))
def test_more_edges_than_there_is_room_for_are_told(power: Power, number: int) -> None:
    """While the program stands for most of a tick: 255 edges wait, of more it drops pulses and says so."""
    robot = power("sample_carrier", CARRIER)
    robot.run(1100, carrier)
    robot.chip.halt(1800 * US)
    begin = robot.chip.cycle + 10 * US
    noise = [Edge(begin + n * 5 * US, "GP21", 1 - n % 2) for n in range(number)]
    seen = robot.chip.run(1110 * MS, noise)
    robot.events += robot.decoder.feed(bytes(byte for byte, _ in seen.sent))
    robot.run(1250, carrier)
    last = [event for event in robot.events if isinstance(event, Identity)][-1]
    assert last.flooded == (number > 255)
    assert not last.late


def test_a_late_tick_stops_it(power: Power) -> None:
    """The program stands for three ticks and goes on: every output rests, and it says so."""
    robot = power("sample_carrier", CARRIER)
    robot.run(DRIVES_MS, carrier)
    robot.chip.halt(6 * MS)
    seen = robot.run(DRIVES_MS + 100, carrier)
    assert not seen.resets
    assert [event for event in robot.events if isinstance(event, Identity)][-1].late
    after = (DRIVES_MS + 8) * MS
    assert all(train.cycle + train.period * train.repeats < after for train in seen.trains)
    assert not [
        edge for edge in seen.edges if edge.cycle > after and edge.level == 1 and edge.pin in DUTIES
    ]
