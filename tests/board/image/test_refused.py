"""What has no bound is refused, with the one reason and the place."""

import re
import struct
from pathlib import Path

import pytest

from mixer.board.image.bound import worst_case
from mixer.board.image.carried import require_mix
from mixer.board.image.elf import Image, image_of
from mixer.board.image.processors import processor_of
from mixer.errors import ImageError
from tests.board.image.programs import AVR, M0, avr_program, m0_program
from tests.boards.cortex_m0 import FLAGS

BUILDS = {AVR: avr_program, M0: m0_program}
boards = pytest.mark.parametrize(
    "board",
    [
        pytest.param(AVR, marks=pytest.mark.needs_tool("avr-gcc")),
        pytest.param(M0, marks=pytest.mark.needs_tool("arm-none-eabi-gcc")),
    ],
)
RECURSES = """
uint8_t __attribute__((noinline)) routine(void) { return in[0] ? routine() + in[1] : 0; }
"""
RECURSES_THROUGH = """
uint8_t routine(void);
uint8_t __attribute__((noinline)) other(void) { return in[0] ? routine() + in[1] : 0; }
uint8_t __attribute__((noinline)) routine(void) { return in[2] ? other() + in[1] : 0; }
"""
WAITS = "void __attribute__((noinline)) routine(void) { while (!in[0]) { } }"
SEARCHES = """
void __attribute__((noinline)) routine(void)
{
    uint16_t x = in[0] | in[1] << 8;
    while (x != 1) { x = x & 1 ? 3 * x + 1 : x / 2; }
}
"""
POINTS = """
void one(void); void two(void);
void (*volatile chosen)(void);
void __attribute__((noinline)) routine(void) { chosen(); }
"""
ALLOCATES = """
void use(volatile uint8_t *p) { p[0] = in[1]; }
void __attribute__((noinline)) routine(void)
{
    volatile uint8_t *p = __builtin_alloca(in[0]);
    use(p);
    out[0] = p[0];
}
"""
FOREVER = "void __attribute__((noinline)) routine(void) { for (;;) { out[0] = 1; } }"
CASES = {
    "recursion": (RECURSES, "it calls itself"),
    "recursion through another": (RECURSES_THROUGH, "it calls itself"),
    "a loop that waits": (WAITS, "a loop that nothing is seen to end"),
    "a loop whose end nobody knows": (SEARCHES, "a loop that nothing is seen to end"),
    "a call through a pointer": (
        POINTS,
        "where `i?(call|blx|jmp|bx)` leads is not followed|does not return",
    ),
    "a stack that depends on data": (ALLOCATES, "the stack pointer is no longer known"),
    "no return": (FOREVER, "a loop that nothing is seen to end|it never returns"),
}


@boards
@pytest.mark.parametrize("case", CASES)
def test_no_bound_without_a_reason_to_have_one(case: str, board: str, tmp_path: Path) -> None:
    """C that a compiler takes without a word, refused at its place in the routine."""
    text, reason = CASES[case]
    image = BUILDS[board](tmp_path, text)
    with pytest.raises(ImageError) as caught:
        worst_case(image, "routine")
    said = caught.value.said
    assert re.search(rf": no bound for routine: .*({reason})", said), said
    assert re.search(r", at 0x[0-9a-f]+ \((routine|other|main)", said), said


BOUNDED = {
    "a count from memory": "unsigned n = in[0]; do { out[0] = n; } while (n--);",
    "a shift of any width": "*(volatile uint16_t *)out = *(volatile uint16_t *)in >> (in[2] & 15);",
    "a number doubled often": "uint32_t x = *(volatile uint32_t *)in;"
    "for (uint8_t n = 0; n < 30; n++) x += x; *(volatile uint32_t *)out = x;",
    "room made by a call of what comes next": "volatile uint16_t a = in[0]; out[0] = a; out[1] = a >> 8;",
    "a loop in a loop": "for (uint8_t i = 0; i < 5; i++) for (uint8_t j = i; j; j--) out[j] = in[i];",
    "an array of known size": "uint8_t a[40]; for (uint8_t i = 0; i < 40; i++) a[i] = in[i & 7];"
    "out[0] = a[in[0] & 31];",
}


@boards
@pytest.mark.parametrize("case", BOUNDED)
def test_what_ends_by_its_numbers_has_a_bound(case: str, board: str, tmp_path: Path) -> None:
    """Loops whose count lies within a byte, a mask or constants, one inside another too."""
    image = BUILDS[board](tmp_path, f"void __attribute__((noinline)) routine(void) {{ {BOUNDED[case]} }}")
    worst = worst_case(image, "routine")
    assert 0 < worst.cycles < 20_000
    assert worst.stack < 200


@pytest.mark.needs_tool("avr-gcc")
def test_the_stack_pointer_by_its_address_is_refused(tmp_path: Path) -> None:
    """A store that moves the stack as no compiler does."""
    text = 'void routine(void) { __asm__ volatile("sts 0x5D, r24"); }'
    with pytest.raises(ImageError, match="no bound for routine: it writes a register of the core"):
        worst_case(avr_program(tmp_path, text), "routine")


@pytest.mark.needs_tool("avr-gcc")
def test_another_device_is_refused(tmp_path: Path) -> None:
    """An ATmega2560 counts cycles otherwise: its name is told."""
    image = avr_program(tmp_path, "void routine(void) { }", device="atmega2560")
    with pytest.raises(ImageError, match=r"is for (atmega2560|another AVR), whose timing is not known"):
        processor_of(image)


@pytest.mark.needs_tool("arm-none-eabi-gcc")
def test_another_arm_is_refused(tmp_path: Path) -> None:
    """A Cortex-M3 has instructions and times of its own."""
    image = m0_program(tmp_path, "void routine(void) { }", "-mcpu=cortex-m3")
    with pytest.raises(ImageError, match="is for an ARM whose timing is not known"):
        processor_of(image)


@pytest.mark.needs_tool("arm-none-eabi-gcc")
def test_code_in_flash_is_refused(tmp_path: Path) -> None:
    """The RP2040 reads flash through a cache that may miss."""
    image = m0_program(tmp_path, "void routine(void) { }", "-Wl,-Ttext=0x10000100")
    with pytest.raises(ImageError, match="it runs from flash, where it may have to wait"):
        worst_case(image, "routine")


@pytest.mark.needs_tool("arm-none-eabi-gcc")
def test_a_number_in_flash_is_refused(tmp_path: Path) -> None:
    """The cache may miss, and how long it then takes nobody says."""
    text = "void routine(void) { out[0] = *(volatile uint8_t *)0x10054000; }"
    with pytest.raises(ImageError, match="it asks 0x10054000, where it may have to wait"):
        worst_case(m0_program(tmp_path, text), "routine")


@pytest.mark.needs_tool("arm-none-eabi-gcc")
def test_a_peripheral_waits_for_its_bus(tmp_path: Path) -> None:
    """Two cycles more for a load and three for a store than in SRAM (RP2040 data sheet, "APB Bridge")."""
    texts = [f"void routine(void) {{ *(volatile uint32_t *){at} = 1; (void)*(volatile uint32_t *){at}; }}"
             for at in ("0x20000000", "0x40054000")]  # fmt: skip
    sram, peripheral = (worst_case(m0_program(tmp_path, text), "routine").cycles for text in texts)
    assert peripheral - sram == 5


@pytest.mark.needs_tool("avr-gcc")
def test_an_unknown_routine_is_told_with_the_nearest(tmp_path: Path) -> None:
    """A name that is misspelled."""
    image = avr_program(tmp_path, "void routine(void) { }")
    with pytest.raises(ImageError, match=r"has no routine 'rotine'\n    remedy: did you mean 'routine'\?"):
        worst_case(image, "rotine")


def test_the_m0_of_the_tests_is_linked_as_the_boards_are() -> None:
    """From SRAM, for a Cortex-M0+."""
    assert "-mcpu=cortex-m0plus" in FLAGS
    assert any("0x20000000" in flag for flag in FLAGS)


@pytest.mark.needs_tool("avr-gcc")
def test_a_program_of_another_robot_is_refused(tmp_path: Path) -> None:
    """By the constant of its mix; by the digits among its bytes where it has none; else it says nothing."""
    named = avr_program(tmp_path, 'const char mix_fingerprint[] = "0123456789ab"; void routine(void) { }')
    require_mix(named, "0123456789ab")
    with pytest.raises(ImageError, match="carries the mix 0123456789ab, the profile's is ffffffffffff"):
        require_mix(named, "ffffffffffff")
    text = 'const char *volatile who = "0123456789ab"; void routine(void) { }'
    told = avr_program(tmp_path, text)
    require_mix(told, "0123456789ab")
    with pytest.raises(ImageError, match="does not say that it carries the mix ffffffffffff"):
        require_mix(told, "ffffffffffff")


def damaged(raw: bytes) -> list[bytes]:
    """A good file cut short, and with wild numbers where its tables are."""
    wild = struct.pack("<I", 0xFFFFFFF0)
    return [
        raw[:200],
        raw[: len(raw) // 2],
        raw[:32] + wild + raw[36:],
        raw[:28] + wild + raw[32:],
        raw[:52],
    ]


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.parametrize("number", range(5))
def test_a_damaged_file_is_told(number: int, tmp_path: Path) -> None:
    """No traceback, whatever the bytes."""
    avr_program(tmp_path, "void routine(void) { }")
    raw = damaged((tmp_path / "made.elf").read_bytes())[number]
    with pytest.raises(ImageError, match="is a damaged ELF file"):
        image_of(raw, "x.elf")


def test_what_is_no_elf_is_told() -> None:
    """A text, an empty file, an object of another machine's size."""
    for raw in (b"", b":100000000C9434000C943E00\n", b"\x7fELF\x02\x01" + bytes(100)):
        with pytest.raises(ImageError, match="is no 32-bit little-endian ELF file"):
            image_of(raw, "x.hex")


def test_an_empty_image_has_no_code() -> None:
    """Nothing stands anywhere in it."""
    image = Image("x", 83, (), {}, "", 5)
    assert image.code(0, 4) == b""
    assert image.value("anything") is None
