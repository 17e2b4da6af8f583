"""The simulated ATmega328P: everything that its run loop puts right in the library, each on its own.

Times and registers are those of the data sheet (Microchip, megaAVR data sheet DS40002061A), by section.
"""

from itertools import pairwise

import numpy as np
import pytest

from mixer.board.chip.avr import AvrChip
from mixer.board.chip.chip import UNDRIVEN, Edge, Reset, edges_of
from mixer.board.image.elf import Image
from mixer.errors import ChipError, ImageError
from tests.board.chip.avr_programs import built

pytestmark = [
    pytest.mark.needs_tool("avr-gcc"),
    pytest.mark.needs_tool("simavr"),
    pytest.mark.needs_tool("gcc"),
]

MS = 16_000
IDLE = "int main(void) { for (;;) { } }"


def edges_on(pin: str, edges: list[Edge]) -> list[tuple[int, int]]:
    """Cycle and level of each edge on a pin."""
    return [(edge.cycle, edge.level) for edge in edges if edge.pin == pin]


def test_an_interrupt_is_entered_in_four_cycles() -> None:
    """Section 6.7.1: four cycles at least after the running instruction; then the vector's jump, three."""
    chip = AvrChip(
        built(
            "ISR(PCINT0_vect, ISR_NAKED) { PORTC = 1; PORTC = 0; reti(); }\n"
            "int main(void) { DDRC = 1; PCMSK0 = 1; PCICR = 1;\n"
            '__asm__ volatile("ldi r24, 1\\nldi r25, 0"); sei(); for (;;) { } }'
        )
    )
    entries = []
    for n in range(1, 20):
        at = n * MS + n  # every phase of the loop's two cycles
        seen = chip.run((n + 1) * MS, [Edge(at, "PB0", n % 2)])
        rises = [cycle for cycle, level in edges_on("PC0", seen.edges) if level == 1]
        entries.append(rises[0] - at)
    chip.close()

    assert min(entries) >= 4 + 3
    assert max(entries) <= 4 + 3 + 1 + 2, "one instruction of the handler, and the loop's jump before it"


SENDER = """
static void put(uint8_t byte) { while (!(UCSR0A & (1 << UDRE0))) { } UDR0 = byte; }
volatile uint8_t waited;
int main(void) { UBRR0 = 16; UCSR0A = 1 << U2X0; UCSR0C = FORMAT; UCSR0B = 1 << TXEN0;
  UDR0 = 65; UDR0 = 66; waited = UCSR0A; put(67); put(68); for (;;) { } }
"""


@pytest.mark.parametrize(
    ("form", "bits"),
    [
        ("(1 << UCSZ01) | (1 << UCSZ00)", 10),
        ("(1 << UCSZ01) | (1 << UCSZ00) | (1 << UPM01) | (1 << USBS0)", 12),
    ],
)
def test_serial_bytes_take_their_bits_and_wait_in_one_register(form: str, bits: int) -> None:
    """Sections 19.3.1 and 19.6: 8 (UBRR + 1) cycles a bit; one byte is shifted out, one waits."""
    chip = AvrChip(built(SENDER.replace("FORMAT", form)))
    sent = chip.run(10 * MS).sent
    waited = chip.peek("waited")[0]
    chip.close()

    assert bytes(byte for byte, _ in sent) == b"ABCD"
    assert [b[1] - a[1] for a, b in pairwise(sent)] == [bits * 8 * 17] * 3
    assert not waited & 1 << 5


def test_a_third_byte_is_lost_as_in_the_chip() -> None:
    """Section 19.6.2: the register is written only while UDRE is set."""
    chip = AvrChip(
        built(
            "int main(void) { UBRR0 = 16; UCSR0B = 1 << TXEN0; UDR0 = 1; UDR0 = 2; UDR0 = 3; for (;;) { } }"
        )
    )
    sent = chip.run(20 * MS).sent
    chip.close()

    assert [byte for byte, _ in sent] == [1, 2]


def test_serial_interrupts_are_refused_not_left_out() -> None:
    """The chip has them, the simulation does not: it says so."""
    chip = AvrChip(
        built("int main(void) { UCSR0B = (1 << TXEN0) | (1 << TXCIE0); UDR0 = 1; for (;;) { } }")
    )
    with pytest.raises(ChipError, match="interrupts of the serial port"):
        chip.run(MS)
    chip.close()


def test_bytes_from_outside_come_one_after_the_other() -> None:
    """What is sent in one call arrives at the line's own rate."""
    chip = AvrChip(
        built(
            "volatile uint8_t got[4], n;\n"
            "int main(void) { UBRR0 = 16; UCSR0A = 1 << U2X0; UCSR0B = 1 << RXEN0; DDRB = 1;\n"
            "for (;;) { if (UCSR0A & (1 << RXC0)) { got[n++ & 3] = UDR0; PINB = 1; } } }"
        )
    )
    chip.send(b"abc", 2 * MS)
    seen = chip.run(10 * MS)
    got = chip.peek("got")
    chip.close()

    times = [cycle for cycle, _ in edges_on("PB0", seen.edges)][1:]
    assert got[:3] == b"abc"
    assert times == pytest.approx([2 * MS + n * 10 * 136 for n in (1, 2, 3)], abs=30)


def test_pins_keep_their_outer_level_when_pull_ups_come_on_and_over_a_reset() -> None:
    """Section 13.2: a pull-up is weak; who drives the wire has its way."""
    chip = AvrChip(
        built("volatile uint8_t read; int main(void) { PORTD = 0xF0; for (;;) { read = PIND; } }"),
    )
    chip.run(2, [Edge(1, "PD5", 0), Edge(1, "PD3", 1)])
    chip.run(MS)
    first = chip.peek("read")[0] & 0xF8
    chip.reset(Reset.PIN)
    chip.run(2 * MS)
    again = chip.peek("read")[0] & 0xF8
    chip.run(3 * MS, [Edge(2 * MS + 10, "PD5", UNDRIVEN)])
    let_go = chip.peek("read")[0] & 0xF8
    chip.close()

    assert (first, again, let_go) == (0b11011000, 0b11011000, 0b11111000)


WHY = "volatile uint8_t why; int main(void) { why = MCUSR; MCUSR = 0; wdt_disable(); for (;;) { } }"


@pytest.mark.parametrize("reason", list(Reset))
def test_the_program_is_told_why_it_starts(reason: Reset) -> None:
    """Section 10.9.1: one flag a reason."""
    chip = AvrChip(built(WHY))
    chip.run(MS)
    first = chip.peek("why")[0]
    chip.reset(reason, held=MS)
    seen = chip.run(4 * MS)
    why = chip.peek("why")[0]
    chip.close()

    assert first == Reset.POWER
    assert why == reason
    assert [said for _, said in seen.resets] == [reason]


def test_only_power_makes_the_memory_new() -> None:
    """RAM is rubbish when power comes, another the next time; a reset leaves it (section 7.3)."""
    program = built(
        'uint8_t left[16] __attribute__((section(".noinit"))); ' + IDLE + "uint8_t *use = left;"
    )
    chip = AvrChip(program)
    chip.run(MS)
    first = chip.peek("left")
    chip.reset(Reset.PIN)
    chip.run(2 * MS)
    kept = chip.peek("left")
    chip.reset(Reset.POWER)
    chip.run(3 * MS)
    anew = chip.peek("left")
    chip.close()

    assert len(set(first)) > 8
    assert kept == first
    assert anew != first


PWM = """
volatile uint8_t wanted = 99;
int main(void) {
  DDRD = 1 << 6 | 1 << 5; OCR0A = 99; OCR0B = OTHER; TCCR0A = COM | MODE; TCCR0B = 1 << CS01;
  while (!(PINB & 1)) { PORTD ^= 1 << 3; OCR0A = wanted; }
  TCCR0A = 0; for (;;) { }
}
"""
BOTH = "1 << COM0A1 | 1 << COM0B1"
INVERTED = "1 << COM0A1 | 1 << COM0A0 | 1 << COM0B1 | 1 << COM0B0"
FAST, CORRECT = "1 << WGM01 | 1 << WGM00", "1 << WGM00"


def duty(com: str, mode: str, other: int = 255) -> AvrChip:
    """A chip with duty on PD6 and PD5, until PB0 is high."""
    program = PWM.replace("COM |", com + " |").replace("MODE", mode).replace("OTHER", str(other))
    chip = AvrChip(built(program))
    chip.run(1, [Edge(0, "PB0", 0)])
    return chip


@pytest.mark.parametrize(
    ("com", "mode", "high", "period"),
    [
        (BOTH, FAST, 100 * 8, 256 * 8),
        (INVERTED, FAST, 156 * 8, 256 * 8),
        (BOTH, CORRECT, 198 * 8, 510 * 8),
        (INVERTED, CORRECT, 312 * 8, 510 * 8),
    ],
)
def test_duty_is_seen_to_the_cycle(com: str, mode: str, high: int, period: int) -> None:
    """Sections 14.7.3 and 14.7.4: OCR + 1 counts of 256, or 2 OCR of 510, are high, or inverted low."""
    chip = duty(com, mode)
    seen = chip.run(20 * MS)
    found = edges_on("PD6", edges_of(seen))
    chip.close()

    rises = [cycle for cycle, level in found if level]
    falls = [cycle for cycle, level in found if not level and cycle > rises[0]]
    assert len(rises) > 20 * MS // period - 2
    assert set(np.diff(rises[1:])) == {period}
    assert {fall - rise for rise, fall in zip(rises[1:-1], falls[1:], strict=False)} == {high}
    assert len(seen.trains) < 4, "in short"


@pytest.mark.parametrize(
    ("com", "mode", "compare", "level"),
    [
        (BOTH, FAST, 255, 1),
        (INVERTED, FAST, 255, 0),
        (BOTH, CORRECT, 255, 1),
        (BOTH, CORRECT, 0, 0),
        (INVERTED, CORRECT, 0, 1),
        (INVERTED, CORRECT, 255, 0),
    ],
)
def test_duty_at_its_ends_is_constant(com: str, mode: str, compare: int, level: int) -> None:
    """Sections 14.7.3, 14.7.4: constant at TOP, in phase-correct mode at BOTTOM as well."""
    chip = duty(com, mode, compare)
    seen = chip.run(20 * MS)
    chip.close()

    found = edges_on("PD5", edges_of(seen))
    assert [edge[1] for edge in found if edge[0] > 100] == []
    assert found[-1][1] == level


@pytest.mark.parametrize(
    ("com", "mode", "edge"), [(BOTH, FAST, 1), (INVERTED, FAST, 0), (BOTH, CORRECT, None)]
)
def test_a_new_compare_value_waits_for_the_next_period(com: str, mode: str, edge: int | None) -> None:
    """Sections 14.7.3, 14.7.4: OCR is buffered: no pulse is cut or doubled, whenever it is written."""
    for at in range(0, 2048, 173):
        chip = duty(com, mode)
        before = chip.run(10 * MS + at)
        chip.poke("wanted", bytes([20]))
        after = chip.run(20 * MS)
        chip.close()
        found = edges_on("PD6", sorted(edges_of(before) + edges_of(after)))[3:]
        rises = [cycle for cycle, level in found if level]
        widths = {b[0] - a[0] for a, b in pairwise(found) if a[1]}
        if edge is not None:
            assert widths == ({800, 168} if edge else {156 * 8, 235 * 8})
            assert set(np.diff(rises)) <= {2048} if edge else {2048, 2048 - 632, 2048 + 632}
        else:
            assert widths == {198 * 8, 40 * 8}


def test_a_pin_that_a_timer_lets_go_falls_back_to_its_port() -> None:
    """Section 13.3: disconnected, PORT drives the pin: 0, though its neighbour was toggled meanwhile."""
    for at in range(0, 2048, 97):
        chip = duty(BOTH, FAST)
        chip.run(20 * MS)
        chip.run(20 * MS + at)
        seen = chip.run(30 * MS, [Edge(20 * MS + at + 10, "PB0", 1)])
        chip.close()
        last = edges_on("PD6", edges_of(seen))
        assert not last or last[-1][1] == 0
        assert all(cycle < 20 * MS + at + 100 for cycle, _ in last)


@pytest.mark.parametrize(("timer", "clock", "prescaler"), [(0, 1, 1), (2, 1, 1), (0, 2, 8), (2, 2, 8)])
def test_the_overflow_flag_of_a_phase_correct_timer_comes_at_bottom(
    timer: int, clock: int, prescaler: int
) -> None:
    """Section 14.7.4: TOV is set each time the counter is at BOTTOM, 510 counts apart; a one clears it."""
    body = (
        f"int main(void) {{ DDRC = 1; TCCR{timer}A = 1 << WGM00; TCCR{timer}B = {clock};\n"
        f"for (;;) {{ if (TIFR{timer} & 1) {{ TIFR{timer} = 1; PINC = 1; }} }} }}"
    )
    chip = AvrChip(built(body))
    seen = chip.run(50 * MS)
    chip.close()

    gaps = np.diff([cycle for cycle, _ in edges_on("PC0", seen.edges)][2:])
    assert len(gaps) > 50 * MS // (510 * prescaler) - 4
    assert np.abs(gaps - 510 * prescaler).max() <= 8, "the loop that looks"
    assert gaps.mean() == pytest.approx(510 * prescaler, rel=1e-3)


SERVO = """
int main(void) {
  DDRB = 1 << 1; ICR1 = 39999; OCR1A = 2999; TCCR1A = 1 << COM1A1 | 1 << WGM11;
  TCCR1B = 1 << WGM13 | 1 << WGM12 | 1 << CS11;
  for (;;) { if (PINB & 1) { OCR1A = 3599; } }
}
"""


def test_servo_pulses_of_timer_1_are_whole() -> None:
    """Section 15.9.3: mode 14, 20 ms by ICR1, high for OCR1A + 1 counts, OCR1A buffered."""
    for at in (100, 15 * MS, 21 * MS - 100):
        chip = AvrChip(built(SERVO))
        chip.run(1, [Edge(0, "PB0", 0)])
        seen = chip.run(110 * MS, [Edge(40 * MS + at, "PB0", 1)])
        chip.close()
        found = edges_on("PB1", edges_of(seen))[1:]
        widths = [b[0] - a[0] for a, b in pairwise(found) if a[1]]
        assert widths[0] == 1500 * 16
        assert widths[-1] == 1800 * 16
        assert set(widths) == {1500 * 16, 1800 * 16}
        assert set(np.diff([cycle for cycle, level in found if level])) == {20 * MS}


def test_a_mode_that_nobody_models_is_refused() -> None:
    """Mode 7 counts to OCR0A."""
    chip = AvrChip(
        built(
            "int main(void) { OCR0A = 99; TCCR0A = 1 << COM0B1 | 3; TCCR0B = 1 << WGM02 | 1; for (;;) { } }"
        )
    )
    with pytest.raises(ChipError, match="a mode that this simulated chip does not have"):
        chip.run(MS)
    chip.close()


def test_pins_float_in_reset_and_a_hang_ends_in_the_watchdog() -> None:
    """Section 10.4: at a reset all pins are inputs at once; 10.8: after 250 ms of the watchdog's clock."""
    chip = AvrChip(
        built("int main(void) { wdt_enable(WDTO_250MS); DDRB = PORTB = 2; for (;;) { wdt_reset(); } }"),
    )
    began = chip.run(100 * MS).edges
    chip.hang()
    seen = chip.run(500 * MS)
    chip.close()

    assert [edge.level for edge in began if edge.pin == "PB1"][-1] == 1
    assert [edge.level for edge in seen.edges if edge.pin == "PB1"][:3] in ([-1, 0, 1], [-1, 1])
    (at, why), *more = seen.resets
    assert not more
    assert why == Reset.WATCHDOG
    assert at == pytest.approx(350 * MS, rel=0.05)


def test_a_halted_program_goes_on_where_it_stood_and_its_interrupts_never_stop() -> None:
    """A halt is nothing the chip has: it stands for a program that is kept from running."""
    chip = AvrChip(
        built(
            "ISR(PCINT0_vect) { PIND = 4; }\n"
            "int main(void) { DDRC = 1; DDRD = 4; PCMSK0 = 1; PCICR = 1; sei(); for (;;) { PINC = 1; } }"
        )
    )
    chip.run(MS)
    chip.halt(5 * MS)
    seen = chip.run(10 * MS, [Edge(at * MS, "PB0", at % 2) for at in range(1, 9)])
    chip.close()

    assert edges_on("PC0", seen.edges)[0][0] == pytest.approx(6 * MS, abs=60)
    assert len(edges_on("PD2", seen.edges)) == 8


def test_two_runs_are_one() -> None:
    """A run in pieces, edges given ahead, shows what one run shows."""
    program = built(
        "ISR(PCINT0_vect) { PORTC = PINB; }\n"
        "int main(void) { DDRC = 7; PCMSK0 = 7; PCICR = 1; sei(); for (;;) { } }"
    )
    edges = [Edge(n * 977, f"PB{n % 3}", n // 3 % 2) for n in range(1, 300)]
    whole, pieces = AvrChip(program), AvrChip(program)
    once = whole.run(320_000, edges)
    pieces.run(1, edges)
    many = [edge for until in range(1_000, 321_000, 1_000) for edge in pieces.run(until).edges]
    whole.close()
    pieces.close()

    assert len(once.edges) > 250
    assert many == [edge for edge in once.edges if edge.cycle > 1]


def test_wrong_images_and_edges_are_refused() -> None:
    """Each with what is wrong."""
    with pytest.raises(ImageError, match="no program for an ATmega328P"):
        AvrChip(Image("arm.elf", 40, (), {}, ""))
    chip = AvrChip(built(IDLE))
    with pytest.raises(ValueError, match="after one at"):
        chip.run(MS, [Edge(20, "PB0", 1), Edge(10, "PB0", 0)])
    with pytest.raises(KeyError):
        chip.peek("nothing")
    chip.close()


def test_sixteen_bit_registers_share_a_byte() -> None:
    """Section 16.3: who reads the counter between another access's halves leaves its upper half there."""
    chip = AvrChip(
        built(
            "volatile uint8_t low, high; volatile uint16_t whole, broken; volatile uint8_t done;\n"
            "int main(void) { TCCR1B = 5; TCNT1 = 0x2345;\n"
            "OCR1A = 0x1122; whole = OCR1A; OCR1AH = 0x33; low = TCNT1L; OCR1AL = 0x44; broken = OCR1A;\n"
            "ICR1 = 0x7788; low = TCNT1L; high = ICR1H; done = 1; for (;;) { } }"
        )
    )
    chip.run(2 * MS)
    numbers = {
        name: int.from_bytes(chip.peek(name), "little") for name in ("whole", "broken", "low", "high")
    }

    assert chip.peek("done") == b"\1"
    assert numbers == {"whole": 0x1122, "broken": 0x2344, "low": 0x45, "high": 0x23}
    chip.close()


def test_the_two_inputs_that_are_analog_alone_can_be_measured() -> None:
    """Section 28.9.1: inputs 6 and 7 of the multiplexer, against the supply's 5 V in 1024 steps."""
    chip = AvrChip(
        built(
            "volatile uint16_t found[2];\n"
            "int main(void) { for (uint8_t k = 0; k < 2; k++) { ADMUX = 0x46 + k; ADCSRA = 0xC7;\n"
            "while (ADCSRA & 0x40) { } found[k] = ADC; } for (;;) { } }"
        )
    )
    chip.set_analog_mv("ADC6", 1250)
    chip.set_analog_mv("ADC7", 4000)
    chip.run(5 * MS)
    found = chip.peek("found")
    chip.close()

    assert int.from_bytes(found[:2], "little") == pytest.approx(256, abs=1)
    assert int.from_bytes(found[2:], "little") == pytest.approx(819, abs=1)


def test_a_chip_that_is_switched_off_says_so() -> None:
    """Its memory is another's by then, so nothing of it is looked at."""
    chip = AvrChip(built(IDLE))
    chip.run(MS)
    chip.close()
    chip.close()
    for ask in (lambda: chip.cycle, lambda: chip.run(2 * MS), lambda: chip.set_analog_mv("PC0", 1)):
        with pytest.raises(ChipError, match="switched off"):
            ask()
