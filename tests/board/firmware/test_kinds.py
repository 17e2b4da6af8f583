"""Every pin that `kinds/atmega328p.py` offers for a use does that in the firmware, on a simulated chip."""

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.frames import Decoder, Frame
from mixer.board.kinds.atmega328p import ATMEGA328P
from mixer.board.kinds.kind import Use
from tests.board.firmware.whole import ALL_KINDS, DUTY, MS, NONE, PINS, US, Whole, wiring
from tests.lengths import cases

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

SERVO = ALL_KINDS[:1]  # on PB1


def offered(use: Use, *but: str) -> list[str]:
    """Names of the pins for a use, without those that the test itself needs."""
    return [pin.name for pin in ATMEGA328P.pins if use in pin.uses and pin.name not in but]


def groups(use: Use, size: int, *but: str) -> list[tuple[str, ...]]:
    """All pins for a use, so many at a time."""
    names = offered(use, *but)
    return [tuple(names[at : at + size]) for at in range(0, len(names), size)]


def last_frame(board: Whole) -> Frame:
    """The newest frame that was sent."""
    return [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)][-1]


def test_numbers_are_those_of_the_firmware() -> None:
    """Eight times the port, and the bit."""
    for pin in ATMEGA328P.pins:
        assert pin.number == PINS.get(pin.name, {"ADC6": 24, "ADC7": 25}.get(pin.name))


@pytest.mark.parametrize("names", groups(Use.CHANNEL, 8, "PB1"))
def test_channel_pins_stamp_edges(names: tuple[str, ...]) -> None:
    """Each pulse on its own pin, read as its own channel."""
    board = Whole(wiring(SERVO, channels=names, TICK_PIN=NONE, tick_ms=20))
    edges = sorted(
        Edge((9_000 + 2_200 * k + after) * US, name, level)
        for k, name in enumerate(names)
        for after, level in ((0, 1), (1_000 + 100 * k, 0))
    )
    board.run_ms(60, edges)
    frames = [event for event in Decoder().feed(bytes(board.sent)) if isinstance(event, Frame)]
    seen = [max(frame.widths[k] for frame in frames) for k in range(len(names))]

    assert seen == [pytest.approx(2 * (1_000 + 100 * k), abs=2) for k in range(len(names))]


@pytest.mark.parametrize("names", groups(Use.CONTACT, 8, "PC0", "PB1"))
def test_contact_pins_are_pulled_up_and_read(names: tuple[str, ...]) -> None:
    """Each alone to ground: its bit alone is 0."""
    numbers = [PINS[name] for name in names]
    board = Whole(
        wiring(
            SERVO,
            channels=("PC0", ""),
            TICK_PIN=NONE,
            CONTACTS=len(names),
            CONTACT_INPUT_PINS=f"{{ {', '.join(map(str, numbers))} }}",
        )
    )
    board.run_ms(30)
    everything = (1 << len(names)) - 1
    assert last_frame(board).contacts == everything
    for k, name in enumerate(names):
        board.run_ms(12, [Edge(board.chip.cycle + 1, name, 0)])
        assert last_frame(board).contacts == everything & ~(1 << k)
        board.run_ms(1, [Edge(board.chip.cycle + 1, name, 1)])


@pytest.mark.parametrize("duties", [("PB3", "PD3"), ("PD5", "PD6")])
def test_every_duty_pin_turns_every_direction_pin(duties: tuple[str, str]) -> None:
    """Half of them with each pair of duty pins: low at first, high to go backward, and then the duty."""
    directions = offered(Use.DIRECTION, "PC0", *duties)
    for at in range(2 * (duties[0] == "PD5"), len(directions) - 1, 4):
        outputs = tuple((DUTY, pin, directions[at + k], 0, 0) for k, pin in enumerate(duties))
        board = Whole(wiring(outputs, channels=("PC0", ""), TICK_PIN=NONE))
        board.run_ms(20)
        board.wires(-100, -200)
        board.run_ms(12)
        for (_, pin, direction, *_), count in zip(outputs, (100, 200), strict=True):
            low, high = board.on(direction)
            assert (low.level, high.level) == (0, 1)
            assert {width for _, width in board.highs(pin)} == {2 * count}


@pytest.mark.parametrize("name", cases(["PC0"], offered(Use.BATTERY, "PC0", "ADC6", "ADC7")))
def test_battery_pins_measure(name: str) -> None:
    """Half of the supply is half of full scale."""
    board = Whole(wiring(SERVO, channels=("PB0", ""), BATTERY_FULL_SCALE_MV=20_000, BATTERY_PIN=PINS[name]))
    board.chip.set_analog_mv(name, 2_500)
    board.run_ms(40)

    assert last_frame(board).battery_mv == pytest.approx(10_000, abs=30)


@pytest.mark.parametrize("name", cases(["PB5"], offered(Use.TICK, "PC0", "PB5", "PB1")))
def test_tick_pins_are_high_while_a_tick_works(name: str) -> None:
    """Once a tick, for a part of it."""
    board = Whole(wiring(SERVO, channels=("PC0", ""), TICK_PIN=PINS[name]))
    board.run_ms(100)
    ticks = board.highs(name)

    assert len(ticks) == pytest.approx(20, abs=1)
    assert all(0 < width < MS for _, width in ticks)
