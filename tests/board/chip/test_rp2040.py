"""The simulated RP2040: everything that our scripts put right in rp2040js, each on its own.

Times and registers are those of the RP2040 data sheet, by section; cycles of the core by the Cortex-M0+
technical reference manual (ARM DDI 0484). Programs run from the ring oscillator, which is 6.4 MHz here, so
one of their cycles is twenty of the chip's 128 MHz.
"""

import subprocess
import sys
import time
import zlib
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from mixer.board.chip.chip import UNDRIVEN, Edge, Reset, Seen, edges_of
from mixer.board.chip.rp2040 import Rp2040Chip
from mixer.board.image.elf import Image
from mixer.errors import ChipError, ImageError
from tests.board.chip.rp2040_programs import built, built_elf

pytestmark = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]

MS = 128_000
SLOW = 20
"""Cycles of 128 MHz in one of the ring oscillator."""
UP = 10 * MS
"""By then the boot stage has copied any program here."""


@pytest.fixture
def chips() -> Iterator[list[Rp2040Chip]]:
    """Chips to be switched off."""
    running: list[Rp2040Chip] = []
    yield running
    for chip in running:
        chip.close()


def on(pin: str, seen: Seen) -> list[tuple[int, int]]:
    """Cycle and level of each edge on a pin."""
    edges = [(edge.cycle, edge.level) for edge in edges_of(seen) if edge.pin == pin]
    assert all(a[1] != b[1] and a[0] < b[0] for a, b in pairwise(edges)), "each edge is one, and told once"
    return edges


def started(chips: list[Rp2040Chip], body: str | Image, **given: int) -> Rp2040Chip:
    """A chip that runs a program."""
    chips.append(Rp2040Chip(built(body) if isinstance(body, str) else body, **given))
    return chips[-1]


# ---- The core ------------------------------------------------------------------------------------

TOGGLING = """
void io_bank0_interrupt(void) { OUT_SET = 2; IO_INTR(0) = 0xCCCCCCCC; OUT_CLR = 2; }
int main(void)
{
    open_pin_0();
    SIO_GPIO_OE_SET = 2;
    IO_CTRL(1) = IO_FUNCTION_SIO;
    SET_BITS(IO_PROC0_INTE(0)) = IO_BOTH_EDGES << 8;
    NVIC_ISER = 1UL << IRQ_IO_BANK0;
    for (;;) { __asm volatile("str %1, [%0]" : : "l" (0xD000001C), "l" (1)); }
}
"""


def test_an_interrupt_is_entered_in_15_cycles_and_left_in_13(chips: list[Rp2040Chip]) -> None:
    """DDI 0484, 3.4: 15 cycles to the handler's first instruction; that, and 13 back, are added by us."""
    chip = started(chips, TOGGLING)
    before = chip.run(UP)
    step = {b - a for (a, _), (b, _) in pairwise(on("GP0", before)[5:])}
    assert len(step) == 1, "the loop takes the same time each time"
    (loop,) = step
    waits, gaps = [], []
    for n in range(10):
        at = UP + n * MS + 1000 + n * 7
        seen = chip.run(UP + (n + 1) * MS, [Edge(at, "GP2", (n + 1) % 2)])
        rise, fall = on("GP1", seen)[:2]
        waits.append(rise[0] - at)
        gap = max(b - a for (a, _), (b, _) in pairwise(on("GP0", seen)))
        gaps.append(gap - loop - (fall[0] - rise[0]))

    # Before its first write the handler loads an address and a number, 4 cycles at most; and an
    # instruction may still run.
    assert min(waits) >= 15 * SLOW
    assert max(waits) <= (15 + 4 + 3) * SLOW
    assert all((15 + 13) * SLOW <= gap <= (15 + 13 + 8) * SLOW for gap in gaps)


COUNTING = """
volatile uint32_t rounds;
int main(void) { open_pin_0(); for (;;) { OUT_XOR = 1; for (rounds = 0; rounds < 100; rounds++) { } } }
"""


def test_the_core_runs_at_the_clock_that_is_set(chips: list[Rp2040Chip]) -> None:
    """2.15: clk_sys from the crystal is 12 MHz, so the loop is 12 / 6.4 times as quick as from the ring."""
    slow = on("GP0", started(chips, COUNTING).run(UP))
    body = COUNTING.replace(
        "open_pin_0();",
        "open_pin_0(); REGISTER(XOSC_CTRL) = 0xAA0; XOSC_STARTUP = 1;"
        "SET_BITS(XOSC_CTRL) = XOSC_CTRL_ENABLE;"
        "while (!(XOSC_STATUS & XOSC_STATUS_STABLE)) { } CLK_REF_CTRL = CLK_REF_FROM_XOSC;",
    )
    quick = on("GP0", started(chips, body).run(UP))

    def per_round(edges: list[tuple[int, int]]) -> float:
        return (edges[-1][0] - edges[-11][0]) / 10

    assert per_round(slow) / per_round(quick) == pytest.approx(12 / 6.4, rel=1e-4)


@pytest.mark.parametrize("often", [1, 200])
def test_a_call_takes_the_cycles_of_the_manual(chips: list[Rp2040Chip], often: int) -> None:
    """DDI 0484, table 3-1: BL 3, PUSH 1 + N, POP with PC 3 + N; LR and PC are among the N."""
    body = """
    volatile uint32_t empty, called;
    __asm(".syntax unified\\n.thumb_func\\nleaf: push {r4, r5, lr}\\npop {r4, r5, pc}\\n");
    int main(void)
    {
        SYST_RVR = 0xFFFFFF; SYST_CVR = 0; SYST_CSR = 5;
        for (uint32_t n = 0; n < OFTEN; n++) {
            uint32_t a, b, c;
            __asm volatile("ldr %0, [%3]\\nldr %1, [%3]\\nbl leaf\\nldr %2, [%3]"
                : "=&l" (a), "=&l" (b), "=&l" (c) : "l" (0xE000E018) : "lr", "memory");
            empty = a - b;
            called = b - c;
        }
        for (;;) { }
    }"""
    chip = started(chips, body.replace("OFTEN", str(often)))
    chip.run(2 * UP)
    assert word(chip, "called") - word(chip, "empty") == 3 + (1 + 3) + (3 + 3)


def test_two_runs_are_one(chips: list[Rp2040Chip]) -> None:
    """Where a run ends changes nothing."""
    whole = started(chips, TOGGLING).run(UP, [Edge(UP // 2, "GP2", 1)])
    chip = started(chips, TOGGLING)
    cuts = [UP // 3, UP // 3 + 1, UP // 2, UP // 2 + 111, UP]
    parts = [chip.run(cut, [Edge(UP // 2, "GP2", 1)] if cut == cuts[0] else []) for cut in cuts]
    assert [edge for part in parts for edge in part.edges] == whole.edges


@pytest.mark.parametrize(
    "crash",
    [
        "REGISTER(0xF0000000) = 1;",
        "REGISTER(0xF0000000);",
        '__asm volatile("udf #1");',
        '__asm volatile("ldr r0, [%0]" : : "l" (0x20000002) : "r0");',
    ],
    ids=["write", "read", "instruction", "unaligned"],
)
def test_a_crash_is_a_hard_fault(chips: list[Rp2040Chip], crash: str) -> None:
    """ARMv6-M, B1.5.6. The firmware's vector for it resets the chip at once; rp2040js goes on as before."""
    body = f"int main(void) {{ open_pin_0(); OUT_SET = 1; {crash} for (;;) {{ }} }}"
    seen = started(chips, body).run(UP)
    assert seen.resets[0] == (0, Reset.POWER)
    assert {reason for _, reason in seen.resets[1:]} == {Reset.WATCHDOG}
    rise, floating = on("GP0", seen)[1:3]
    assert (rise[1], floating[1]) == (1, UNDRIVEN)
    assert floating[0] - rise[0] < 60 * SLOW


# ---- Boot and resets -----------------------------------------------------------------------------

IDLE = "int main(void) { open_pin_0(); for (;;) { } }"


def test_rom_starts_no_image_with_a_wrong_check_sum(chips: list[Rp2040Chip]) -> None:
    """2.8.1.3.1: nor does the chip."""
    image = built(IDLE)
    boot = bytearray(image.parts[0].data)
    boot[20] ^= 1
    chip = started(
        chips, replace(image, parts=(replace(image.parts[0], data=bytes(boot)), *image.parts[1:]))
    )
    with pytest.raises(ChipError, match="check sum"):
        chip.run(UP)


def test_flash_is_read_at_its_pace(chips: list[Rp2040Chip]) -> None:
    """4.10: 32 bits of command and address and 64 of data for each eight bytes, two cycles a bit."""
    bits = []
    for size in (1000, 3000):
        body = f"static const uint8_t filler[{size}] = {{1}}; const uint8_t *volatile keep;"
        seen = started(
            chips, f"{body} int main(void) {{ keep = filler; open_pin_0(); for (;;) {{ }} }}"
        ).run(3 * UP)
        bits.append(on("GP0", seen)[0][0])
    copied = 2000 // 4 * 9 * SLOW  # the loop of the boot stage, cycles by its instructions
    assert bits[1] - bits[0] == pytest.approx(2000 / 8 * 96 * 2 * SLOW + copied, rel=0.02)


DOG = """
__attribute__((section(".kept"))) volatile uint32_t kept, reason, scratch, cause;
int main(void)
{
    kept++;
    reason = WATCHDOG_REASON;
    cause = CHIP_RESET;
    scratch = REGISTER(0x4005800C);
    REGISTER(0x4005800C) = 1234;
    open_pin_0();
    OUT_SET = 1;
    WATCHDOG_TICK = WATCHDOG_TICK_ENABLE | 6;
    WATCHDOG_LOAD = 2 * 3000;
    WATCHDOG_CTRL = WATCHDOG_CTRL_ENABLE;
    for (;;) { }
}
"""


def word(chip: Rp2040Chip, symbol: str) -> int:
    """A variable of 32 bits."""
    return int.from_bytes(chip.peek(symbol), "little")


def test_the_watchdog_makes_a_new_chip_and_time_goes_on(chips: list[Rp2040Chip]) -> None:
    """4.7: two counts a tick (erratum E1), pins inputs at once; RAM, scratch and levels outside stay."""
    chip = started(chips, DOG)
    chip.run(MS // 128)
    chip.poke("kept", bytes(4))
    seen = chip.run(60 * MS, [Edge(2 * MS, "GP5", 1)])
    bites = [cycle for cycle, reason in seen.resets if reason == Reset.WATCHDOG]
    rises = [cycle for cycle, level in on("GP0", seen) if level == 1]
    floats = [cycle for cycle, level in on("GP0", seen) if level == UNDRIVEN]
    assert len(bites) > 3
    assert floats == bites
    # A tick is 6 cycles of the ring: 3000 of them, and the few instructions from the rise to the start.
    assert all(
        0 <= bite - rise - 3000 * 6 * SLOW < 30 * SLOW for rise, bite in zip(rises, bites, strict=False)
    )
    starts = [b - a for a, b in zip(bites, rises[1:], strict=False)]
    assert len(set(starts)) == 1, "it boots the same each time"
    assert word(chip, "kept") == len(bites) + 1
    assert (word(chip, "reason"), word(chip, "scratch")) == (1, 1234)
    assert word(chip, "cause") == 1 << 8, "what the power-up left"


@pytest.mark.parametrize(
    ("reason", "cause"), [(Reset.POWER, 1 << 8), (Reset.LOW_SUPPLY, 1 << 8), (Reset.PIN, 1 << 16)]
)
def test_a_reset_from_outside_says_what_it_was(chips: list[Rp2040Chip], reason: Reset, cause: int) -> None:
    """2.12.8: power-on and brown-out are one bit; pins float while it is held; only power-up loses RAM."""
    chip = started(chips, DOG)
    assert chip.run(5 * MS).edges
    chip.poke("kept", (1000).to_bytes(4, "little"))
    chip.reset(reason, held=5 * MS)
    seen = chip.run(9 * MS)
    assert seen.resets == [(chip_cycle := seen.resets[0][0], reason)]
    assert 5 * MS <= chip_cycle <= 5 * MS + 3 * SLOW
    assert on("GP0", seen) == [(chip_cycle, UNDRIVEN)]
    assert chip.run(16 * MS).edges[0].cycle > chip_cycle + 5 * MS
    assert (word(chip, "cause"), word(chip, "reason"), word(chip, "scratch")) == (cause, 0, 0)
    assert (word(chip, "kept") == 1001) is (reason != Reset.POWER)


def test_ram_holds_anything_at_power_up_and_the_same_for_a_seed(chips: list[Rp2040Chip]) -> None:
    """rp2040js has it all zero, which hides what a program forgets to set."""
    body = '__attribute__((section(".kept"))) volatile uint8_t kept[64];' + IDLE.replace(
        "{", "{ (void)kept[0];", 1
    )
    rams = []
    for seed in (1, 1, 2):
        chip = started(chips, body, seed=seed)
        rams.append(chip.peek("kept"))
    assert rams[0] == rams[1] != rams[2]
    assert len(zlib.compress(rams[0])) > 60


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("PWM_CC(0) = 1;", "in reset"),
        ("release(RESETS_TIMER); (void)TIMER_TIMERAWL;", "without its tick"),
        ("release(RESETS_PLL_SYS); PLL_FBDIV(PLL_SYS) = 64; CLK_SYS_CTRL = 1;", "PLL that is not ready"),
        (
            "XOSC_STARTUP = 47; REGISTER(XOSC_CTRL) = 0xFABAA0; CLK_REF_CTRL = 2;",
            "crystal that is not stable",
        ),
        ("release(RESETS_UART0); UART0_DR = 1;", "a port that is off"),
        ("open_serial(4); for (uint32_t n = 0; n < 40; n++) { UART0_DR = n; }", "full port"),
        ("release(RESETS_PWM); PWM_CSR(0) = 3;", "PWM: writing 3"),
        ("SYST_CSR = 7;", "without interrupt"),
    ],
    ids=["reset", "tick", "pll", "crystal", "serial", "fifo", "pwm", "systick"],
)
def test_what_is_not_there_is_a_fault(chips: list[Rp2040Chip], body: str, said: str) -> None:
    """What silicon would not run, or this chip does not model, is told instead of being passed over."""
    with pytest.raises(ChipError, match=said):
        started(chips, f"int main(void) {{ {body} for (;;) {{ }} }}").run(UP)


def test_an_image_of_another_chip_is_refused() -> None:
    """Before anything starts."""
    with pytest.raises(ImageError, match="no program for an RP2040"):
        Rp2040Chip(replace(built(IDLE), machine=83))


def test_oscillators_take_their_time(chips: list[Rp2040Chip]) -> None:
    """2.16.3: STARTUP counts 256 periods of the crystal; a PLL locks later than it starts, not at once."""
    body = """
    int main(void)
    {
        open_pin_0();
        XOSC_STARTUP = 47;
        OUT_SET = 1;
        REGISTER(XOSC_CTRL) = 0xAA0; SET_BITS(XOSC_CTRL) = XOSC_CTRL_ENABLE;
        while (!(XOSC_STATUS & XOSC_STATUS_STABLE)) { }
        OUT_CLR = 1;
        release(RESETS_PLL_SYS);
        PLL_FBDIV(PLL_SYS) = 64;
        CLEAR_BITS(PLL_PWR(PLL_SYS)) = PLL_PWR_DOWN_AND_VCO;
        while (!(PLL_CS(PLL_SYS) & PLL_CS_LOCK)) { }
        OUT_SET = 1;
        for (;;) { }
    }"""
    rise, stable, locked = on("GP0", started(chips, body).run(UP))[1:4]
    assert stable[0] - rise[0] == pytest.approx(47 * 256 / 12 * 128, abs=30 * SLOW)
    assert locked[0] - stable[0] > 1000


# ---- SysTick, halted programs --------------------------------------------------------------------


def test_systick_counts_its_whole_period(chips: list[Rp2040Chip]) -> None:
    """2.4.5.1: RVR + 1 cycles. rp2040js reloads at 0 and so loses one each time round."""
    body = """
    volatile uint32_t first, second;
    int main(void)
    {
        open_pin_0();
        SYST_RVR = 99; SYST_CVR = 0; SYST_CSR = 5;
        OUT_SET = 1; first = SYST_CVR; OUT_CLR = 1;
        for (volatile uint32_t n = 0; n < 500; n++) { }
        OUT_SET = 1; second = SYST_CVR; OUT_CLR = 1;
        for (;;) { }
    }"""
    chip = started(chips, body)
    rises = [cycle for cycle, level in on("GP0", chip.run(UP)) if level == 1]
    gone = (rises[1] - rises[0]) // SLOW
    assert gone > 3000
    assert abs((word(chip, "first") - word(chip, "second") - gone + 50) % 100 - 50) <= 6, "one access each"


def test_a_halted_program_goes_on_where_it_was(chips: list[Rp2040Chip]) -> None:
    """Interrupts are served meanwhile."""
    chip = started(chips, TOGGLING)
    chip.run(UP)
    chip.halt(MS)
    seen = chip.run(UP + 2 * MS, [Edge(UP + MS // 2, "GP2", 1)])
    assert UP + MS // 2 < on("GP1", seen)[0][0] < UP + MS // 2 + 60 * SLOW
    stretches = [(a, b) for (a, _), (b, _) in pairwise([(UP, 0), *on("GP0", seen)]) if b - a > MS // 2]
    assert len(stretches) == 1
    assert stretches[0][1] == pytest.approx(UP + MS, abs=20 * SLOW)


@pytest.mark.parametrize("where", ["", "main", "io_bank0_interrupt"])
def test_a_hung_program_stands_until_a_reset(chips: list[Rp2040Chip], where: str) -> None:
    """In the program interrupts go on, in a handler nothing does that is not more urgent."""
    chip = started(chips, TOGGLING)
    if where != "main":
        chip.run(UP)
    chip.hang(where)
    seen = chip.run(UP + 2 * MS, [Edge(UP + n * 10_000, "GP2", (n + 1) % 2) for n in range(10)])
    after = [edge for edge in seen.edges if edge.cycle > UP + 1000]
    if where == "":
        assert {edge.pin for edge in after} == {"GP1"}
    else:
        assert not after
    chip.reset(Reset.PIN)
    again = chip.run(UP + 20 * MS)
    assert len(on("GP0", again)) > 1000, "it runs again"


# ---- Pins ----------------------------------------------------------------------------------------


def test_pins_float_are_driven_and_read_back(chips: list[Rp2040Chip]) -> None:
    """2.3.1.2, 2.19: what the chip drives it reads back, and pulls show on a pin that nobody drives."""
    body = """
    volatile uint32_t seen[4];
    int main(void)
    {
        release(RESETS_IO_BANK0 | RESETS_PADS_BANK0);
        PADS_GPIO(3) = PADS_INPUT_ENABLE | PADS_PULL_UP;
        PADS_GPIO(4) = 0; /* no input */
        seen[0] = SIO_GPIO_IN;
        SIO_GPIO_OE_SET = 1; OUT_SET = 1;
        seen[1] = SIO_GPIO_IN;
        IO_CTRL(0) = IO_FUNCTION_SIO;
        seen[2] = SIO_GPIO_IN;
        PADS_GPIO(0) = 0xC0; /* output disabled */
        seen[3] = SIO_GPIO_IN;
        for (;;) { }
    }"""
    chip = started(chips, body)
    seen = chip.run(UP, [Edge(0, "GP2", 1), Edge(0, "GP4", 1)])
    numbers = [int.from_bytes(chip.peek("seen")[4 * n :][:4], "little") for n in range(4)]
    assert numbers == [0b1100, 0b1100, 0b1101, 0b1100]
    assert [level for _, level in on("GP0", seen)] == [1, UNDRIVEN]


def test_a_pin_that_is_let_go_falls_to_its_pull(chips: list[Rp2040Chip]) -> None:
    """The edge interrupt comes as for a driven edge."""
    body = TOGGLING.replace(
        "NVIC_ISER", "PADS_GPIO(2) = PADS_INPUT_ENABLE | PADS_PULL_UP; IO_INTR(0) = ~0UL; NVIC_ISER"
    )
    chip = started(chips, body)
    chip.run(UP, [Edge(UP // 2, "GP2", 0)])
    seen = chip.run(UP + MS, [Edge(UP + 1000, "GP2", UNDRIVEN), Edge(UP + 5000, "GP2", 1)])
    assert [cycle for cycle, level in on("GP1", seen) if level == 1 and cycle > UP + 5000] == []
    assert len([cycle for cycle, level in on("GP1", seen) if level == 1]) == 1


def test_analog_inputs_read_against_the_supply(chips: list[Rp2040Chip]) -> None:
    """4.9: 4096 counts are 3.3 V."""
    body = """
    volatile uint32_t result;
    int main(void)
    {
        release(RESETS_ADC);
        for (;;) {
            ADC_CS = ADC_CS_ENABLE | ADC_CS_INPUT(2) | ADC_CS_START_ONE;
            while (!(ADC_CS & ADC_CS_READY)) { }
            result = ADC_RESULT;
        }
    }"""
    chip = started(chips, body)
    for volts, counts in ((0, 0), (1650, 2048), (3300, 4095), (5000, 4095)):
        chip.set_analog_mv("GP28", volts)
        chip.run(chip.cycle + UP)
        assert word(chip, "result") == counts


# ---- PWM -----------------------------------------------------------------------------------------


def pwm(more: str = "") -> str:
    """Slice 0 on GP0 and GP1: 100 counts a period, two cycles each, A at 30, B at 100; then `more`."""
    return f"""
    volatile uint32_t wrapped, counter;
    int main(void)
    {{
        open_pin_0();
        release(RESETS_PWM);
        PWM_TOP(0) = 99; PWM_DIV(0) = 2 << 4; PWM_CC(0) = 100UL << 16 | 30;
        IO_CTRL(0) = IO_FUNCTION_PWM; IO_CTRL(1) = IO_FUNCTION_PWM;
        PWM_CSR(0) = 1;
        {more}
        for (;;) {{ }}
    }}"""


def test_pwm_is_high_from_its_first_count(chips: list[Rp2040Chip]) -> None:
    """4.5.2.2: high while the counter is below the compare value. rp2040js waits for a wrap."""
    seen = started(chips, pwm()).run(UP)
    edges = on("GP0", seen)
    edges = edges[[level for _, level in edges].index(1) :]
    highs = [b - a for (a, level), (b, _) in pairwise(edges) if level]
    periods = [b - a for (a, _), (b, _) in pairwise(edges[::2])]
    assert set(highs[1:]) == {30 * 2 * SLOW}
    assert set(periods[1:]) == {100 * 2 * SLOW}
    assert 30 * 2 * SLOW <= highs[0] < 30 * 2 * SLOW + 30 * SLOW, "it stood at 0 before it ran"
    assert [level for _, level in on("GP1", seen)][-1] == 1, "a compare value above TOP is no edge at all"
    assert len(seen.trains) == 1, "thousands of pulses in a line"


def test_pwm_takes_new_values_at_its_wrap(chips: list[Rp2040Chip]) -> None:
    """4.5.2.2: a pulse is never cut nor stretched, and both outputs change at once."""
    steps = "".join(
        f"PWM_CC(0) = {100 - n}UL << 16 | {n}; " + "for (volatile uint32_t w = 0; w < 40; w++) { } "
        for n in (50, 0, 20, 100)
    )
    seen = started(chips, pwm(steps)).run(UP)
    a, b = on("GP0", seen), on("GP1", seen)
    starts = [cycle for cycle, level in b if level == 1]
    highs = {second - first for (first, level), (second, _) in pairwise(a) if level} - {30 * 2 * SLOW}
    assert {50 * 2 * SLOW, 20 * 2 * SLOW} <= highs
    assert all(high % (2 * SLOW) == 0 for high in highs if high < 100 * 2 * SLOW)
    at = next(cycle for (cycle, level), (end, _) in pairwise(a) if level and end - cycle == 50 * 2 * SLOW)
    assert at in starts or any((at - start) % (200 * SLOW) == 0 for start in starts)
    assert a[-1][1] == 1, "100 of 100 is high for good"


def test_pwm_counter_and_flags_read_as_they_run(chips: list[Rp2040Chip]) -> None:
    """4.5.3: CTR is where the counter stands; INTR has a slice from its wrap until a 1 is written to it."""
    more = "counter = PWM_CTR(0); wrapped = PWM_INTR; for (volatile uint32_t n = 0; n < 100; n++) { }"
    more += "wrapped |= PWM_INTR << 8; PWM_INTR = 1; wrapped |= PWM_INTR << 16; "
    chip = started(chips, pwm(more))
    chip.run(UP)
    assert word(chip, "counter") in range(1, 8)
    assert word(chip, "wrapped") == 1 << 8


def test_a_run_that_ends_in_a_pulse_tells_each_edge_once(chips: list[Rp2040Chip]) -> None:
    """Trains and single edges of many short runs are those of one long one."""
    more = "for (uint32_t n = 0; ; n = (n + 7) % 101) { PWM_CC(0) = n; WAIT }"
    more = more.replace("WAIT", "for (volatile uint32_t w = 0; w < 30; w++) { }")
    whole = on("GP0", started(chips, pwm(more)).run(UP))
    chip = started(chips, pwm(more))
    parts = [edge for n in range(1, 401) for edge in on("GP0", chip.run(n * UP // 400))]
    assert len(whole) > 100
    assert parts == whole


def test_a_pin_leaves_pwm_in_the_middle_of_a_pulse(chips: list[Rp2040Chip]) -> None:
    """What was driven so far is seen, and nothing of the slice after it."""
    more = "for (volatile uint32_t n = 0; n < 103; n++) { } IO_CTRL(0) = 31;"
    seen = started(chips, pwm(more)).run(UP)
    edges = on("GP0", seen)
    assert edges[-1][1] == UNDRIVEN
    assert all(edge.cycle <= edges[-1][0] for edge in seen.edges if edge.pin == "GP0")
    assert len(edges) > 4


# ---- Serial port ---------------------------------------------------------------------------------

SENDER = """
volatile uint32_t flags[40];
int main(void)
{
    open_serial(4);
    for (uint32_t n = 0; n < 33; n++) { flags[n] = UART0_FR; UART0_DR = 65 + n; }
    flags[33] = UART0_FR;
    while (UART0_FR & 0x20) { }
    UART0_DR = 10;
    while (UART0_FR & 8) { }
    open_pin_0();
    for (;;) { }
}
"""
BYTE = 10 * 16 * 4 * SLOW


def test_serial_bytes_take_their_bits_and_32_wait(chips: list[Rp2040Chip]) -> None:
    """4.2.3, 4.2.8: 16 divisors a bit, ten bits a byte; flags full and busy."""
    chip = started(chips, SENDER)
    seen = chip.run(UP)
    assert [byte for byte, _ in seen.sent] == [*range(65, 98), 10]
    assert {b - a for (_, a), (_, b) in pairwise(seen.sent)} == {BYTE}
    flags = [chip.peek("flags")[4 * n] for n in range(34)]
    assert [bool(flag & 0x20) for flag in flags] == [False] * 33 + [True], "one on its way, 32 in the queue"
    assert flags[0] & 0x80
    assert not flags[0] & 8
    assert flags[5] & 8
    assert on("GP0", seen)[0][0] >= seen.sent[-1][1], "busy until the last stop bit"


def test_bytes_that_wait_at_a_reset_never_get_out(chips: list[Rp2040Chip]) -> None:
    """Nor does the one whose stop bit is not through; and a byte is told in the stretch in which it is."""
    chip = started(chips, SENDER)
    first = chip.run(UP).sent[0][1]
    again = started(chips, SENDER)
    fifth = first + 9 * BYTE // 2
    sent = again.run(fifth).sent
    again.reset(Reset.PIN)
    after = again.run(fifth + first - BYTE).sent
    anew = again.run(fifth + first + BYTE).sent

    assert [byte for byte, _ in sent] == [65, 66, 67, 68, 69]
    assert after == []
    assert [byte for byte, _ in anew][:1] == [65]


def test_half_an_empty_queue_interrupts(chips: list[Rp2040Chip]) -> None:
    """4.2.6.3, UARTIFLS: at 16 of 32."""
    body = """
    volatile uint32_t left;
    void uart0_interrupt(void) { UART0_IMSC = 0; OUT_SET = 1; }
    int main(void)
    {
        open_pin_0();
        open_serial(4);
        for (uint32_t n = 0; n < 33; n++) { UART0_DR = n; }
        NVIC_ISER = 1UL << IRQ_UART0;
        UART0_IMSC = UART_INTERRUPT_SEND;
        for (;;) { __asm volatile("wfe"); }
    }"""
    seen = started(chips, body).run(UP)
    (rise,) = [cycle for cycle, level in on("GP0", seen) if level == 1]
    # 33 bytes: one goes at once; 16 are left when the 17th begins, as the 16th ends.
    assert seen.sent[15][1] < rise < seen.sent[15][1] + 60 * SLOW


@pytest.mark.parametrize(
    ("slower", "understood"),
    [(0.95, False), (0.97, True), (1.0, True), (1.03, True), (1.06, False), (2.0, False)],
)
def test_a_listener_at_another_rate_loses_bytes(
    chips: list[Rp2040Chip], slower: float, understood: bool
) -> None:
    """Half a bit in ten is what a frame forgives: about 5 %."""
    baud = round(128e6 / (16 * 4 * SLOW) * slower)
    seen = started(chips, SENDER, baud=baud).run(UP)
    assert ([byte for byte, _ in seen.sent] == [*range(65, 98), 10]) is understood


@pytest.mark.parametrize("wired", [True, False])
def test_bytes_come_in_where_a_pin_is_given_to_them(chips: list[Rp2040Chip], wired: bool) -> None:
    """2.19.2: a port without a pin hears nothing; 32 wait, the rest is lost."""
    body = f"""
    volatile uint32_t got, last;
    int main(void)
    {{
        open_serial(4);
        if ({int(wired)}) {{ IO_CTRL(29) = IO_FUNCTION_UART; }}
        for (volatile uint32_t n = 0; n < 20000; n++) {{ }}
        while (!(UART0_FR & 0x10)) {{ last = UART0_DR; got++; }}
        for (;;) {{ }}
    }}"""
    chip = started(chips, body, baud=100_000)
    chip.send(bytes(range(40)), at=5 * MS)
    chip.run(60 * MS)
    assert (word(chip, "got"), word(chip, "last")) == ((32, 31) if wired else (0, 0))


ENDLESS = """
import sys
from mixer.board.chip.rp2040 import Rp2040Chip
from mixer.board.image.elf import read_image
from pathlib import Path
chip = Rp2040Chip(read_image(Path(sys.argv[1])))
print(chip._process.pid, flush=True)
chip.run(128_000_000 * 100_000)
"""


def test_the_simulator_ends_with_who_asks(tmp_path: Path) -> None:
    """Killed in the middle of a run of a day, a program leaves nothing behind."""
    elf = tmp_path / "idle.elf"
    elf.write_bytes(built_elf(IDLE))
    asker = subprocess.Popen([sys.executable, "-c", ENDLESS, str(elf)], stdout=subprocess.PIPE, text=True)
    assert asker.stdout
    simulator = int(asker.stdout.readline())
    time.sleep(0.5)
    asker.kill()
    asker.wait()
    asker.stdout.close()
    for _ in range(100):
        if (
            not Path(f"/proc/{simulator}/cmdline").exists()
            or not Path(f"/proc/{simulator}/cmdline").read_bytes()
        ):
            return
        time.sleep(0.1)
    pytest.fail(f"process {simulator} still runs")
