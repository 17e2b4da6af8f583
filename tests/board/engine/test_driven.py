"""What pins make drivers do, held against figures worked by hand: a cycle is a microsecond here."""

from dataclasses import replace

import pytest

from mixer.board.chip.chip import UNDRIVEN, Edge, Seen, Train
from mixer.board.engine.driven import SILENT_MS, Driven
from mixer.board.pins.wires import OutputPins, Pins, Shape
from mixer.core.ops import ONE
from mixer.core.plan import Wire
from tests.plans import plain_output, tank_plan

HZ, TICK = 1_000_000, 2_000


def driven(shape: Shape, *, reverse: bool = False) -> Driven:
    """One output: 1500 µs with 400 below and 500 above, or a duty of 255 counts."""
    if shape is Shape.PULSE:
        output = plain_output("o", (ONE,), reverse=reverse, low_span=400)
        pins = OutputPins("o", shape, "A", rest=1500)
    else:
        wire = {"wire": Wire.DUTY, "rest": 0, "low_span": 255, "high_span": 255}
        output = plain_output("o", (ONE,), reverse=reverse, **wire)
        pins = OutputPins("o", shape, "A", "B", top=255)
    plan = replace(tank_plan(), outputs=(output,))
    return Driven(Pins((), (), (pins,), ""), plan, HZ)


def edges(*changes: tuple[int, str, int]) -> Seen:
    """Pins that change singly."""
    return Seen([Edge(*change) for change in changes], [], [], [])


def trains(*given: tuple[int, str, int, int, int]) -> Seen:
    """Pins with many pulses."""
    return Seen([], [Train(*each) for each in given], [], [])


@pytest.mark.parametrize(
    ("wide", "reverse", "share"),
    [(1750, False, 0.5), (1300, False, -0.5), (1500, True, 0), (2000, True, -1)],
)
def test_a_pulse_counts_from_its_end_on(wide: int, reverse: bool, share: float) -> None:
    """Above the middle by its own span, below it by the other; while it lasts the one before counts."""
    one = driven(Shape.PULSE, reverse=reverse)
    one.add(edges((100, "A", 1), (100 + wide, "A", 0), (20_100, "A", 1)))
    one.add(edges((20_100 + 1900, "A", 0)))

    assert one.commands(50 + wide, TICK) == [0], "not over"
    assert one.commands(21_000, TICK) == [round(share * ONE)]
    assert one.commands(22_001, TICK) == [round((0.8 if not reverse else -0.8) * ONE)]


def test_without_pulses_a_controller_rests() -> None:
    """After five periods; a train's last pulse counts, not its first."""
    one = driven(Shape.PULSE)
    one.add(trains((0, "A", 1750, 20_000, 4)))
    last = 3 * 20_000 + 1750

    assert one.commands(last, TICK) == [ONE // 2]
    assert one.commands(last + SILENT_MS * 1000 - 2000, TICK) == [ONE // 2]
    assert one.commands(last + SILENT_MS * 1000, TICK) == [0]


def test_a_duty_is_the_mean_over_a_tick_and_its_sign_the_direction() -> None:
    """A quarter of each period of 50 µs, forward, then back; pulses of another sign are taken off."""
    one = driven(Shape.DUTY)
    one.add(trains((0, "A", 12, 48, 50)))
    assert one.commands(2_400, 2_400) == [ONE // 4]

    one.add(edges((2_399, "B", 1)))
    one.add(trains((2_400, "A", 12, 48, 50)))
    assert one.commands(4_800, 2_400) == [-ONE // 4]
    assert one.commands(3_600, 2_400) == [0], "half of it forward, half back"
    assert driven(Shape.DUTY, reverse=True).commands(10, 10) == [0]


def test_a_pin_that_stays_high_drives_fully_and_one_let_go_not() -> None:
    """Full duty is no edge at all; a chip in reset lets its pin go."""
    one = driven(Shape.DUTY)
    one.add(edges((1_000, "A", 1)))
    assert one.commands(2_000, 1_000) == [ONE]
    assert one.commands(2_000, 2_000) == [ONE // 2]

    one.add(edges((3_000, "A", -1)))
    assert one.commands(4_000, 1_000) == [0]


@pytest.mark.parametrize(("brakes", "first", "second"), [(False, 12, 0), (True, 48, 36), (False, 0, 12)])
def test_a_bridge_is_driven_by_the_difference_of_its_inputs(brakes: bool, first: int, second: int) -> None:
    """Coasting one input is low; braking it is high, and the other is low for the share that drives."""
    one = driven(Shape.BRIDGE)
    for pin, high in (("A", first), ("B", second)):
        if high == 48:
            one.add(edges((0, pin, 1)))
        elif high:
            one.add(trains((0, pin, high, 48, 100)))

    assert one.commands(4_800, 2_400) == [(1 if first > second else -1) * ONE // 4], brakes


def test_a_pin_that_rises_as_a_reset_lets_it_go_was_never_high() -> None:
    """Both in one cycle: as a duty it drives nothing, and as a pulse it is none."""
    for shape in (Shape.DUTY, Shape.PULSE):
        one = driven(shape)
        one.add(edges((100, "A", 1), (1850, "A", 0), (3000, "A", 1), (3000, "A", UNDRIVEN)))
        assert one.commands(5000, TICK) == [0 if shape is Shape.DUTY else ONE // 2]


def test_what_was_long_over_is_forgotten_and_changes_nothing() -> None:
    """A minute of ticks: the same answer, from the last pulses alone."""
    one = driven(Shape.PULSE)
    for number in range(3_000):
        at = number * 20_000
        one.add(edges((at, "A", 1), (at + 1750, "A", 0)))
        assert one.commands(at + 2_000, TICK) == [ONE // 2]
    assert sum(len(wire.trains) for wire in one._wires.values()) < 10
