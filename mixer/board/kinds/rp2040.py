"""RP2040 on the small boards that bring out GP0 to GP22 and GP26 to GP28.

Eight PWM slices give two outputs each; GP n and GP n + 16 are the same output of one slice (RP2040 data
sheet, section 4.5.2).
"""

from mixer.board.kinds.kind import Board, Pin, Unit, Use
from mixer.lower.run.toolchain import Tool

ARM_COMPILER = Tool(
    "the ARM compiler",
    ("arm-none-eabi-gcc",),
    "STICKWRIGHT_ARM_CC",
    "apt-get install gcc-arm-none-eabi libnewlib-arm-none-eabi",
)

_ANY = frozenset(
    {Use.CHANNEL, Use.PULSE_SUM, Use.CONTACT, Use.SERVO, Use.DUTY, Use.DIRECTION, Use.TICK}
)  # fmt: skip
_ANALOG = (26, 27, 28)
_SERIAL = (0, 12, 16, 28)


def _pin(number: int) -> Pin:
    uses = set(_ANY)
    if number in _ANALOG:
        uses.add(Use.BATTERY)
    if number in _SERIAL:
        uses.add(Use.SERIAL_OUT)
    slice_, side = number // 2 % 8, "AB"[number % 2]
    return Pin(f"GP{number}", number, frozenset(uses), "", f"slice {slice_}", side)


_TOPS = (26, 16383)
"""A slice counts at 128 MHz divided by a whole number up to 255: 20 to 40 kHz for tops up to 6400, 7.8 kHz
for the highest. Below the lowest it would be quicker than bridges take."""
_EVEN_FIRST = tuple(f"GP{n}" for n in (*range(0, 16, 2), *range(1, 16, 2)))

RP2040 = Board(
    key="rp2040",
    name="RP2040",
    hz=128_000_000,
    volts=3.3,
    ram_at=0x20000000,
    ram_bytes=256 * 1024,
    stack_bytes=4096,
    flash_bytes=2 * 1024 * 1024,
    stack_room=(0x20040000, 0x20040FFF),
    pins=tuple(_pin(number) for number in (*range(23), 26, 27, 28)),
    units=tuple(Unit(f"slice {n}", servo=True, tops=_TOPS) for n in range(8)),
    bauds=(115_200, 250_000, 500_000, 1_000_000),
    most_channels=8,
    most_contacts=8,
    compiler=ARM_COMPILER,
    sources=(
        *("hal_rp2040.c", "program_rp2040.c", "program_rp2040.h", "start_rp2040.c", "boot_rp2040.S"),
        *("rp2040.h", "rp2040.ld", "uf2.c"),
    ),
    supply="5 V on its VSYS pin through a Schottky diode, or its USB plug",
    cautions=(
        "It runs at 3.3 V: a receiver, switch or sensor of 5 V needs a divider in every wire to it.",
        "Its outputs give 3.3 V: see that bridges and controllers read that as high.",
    ),
    duty_caution="Duties of 255 counts switch at 20 kHz, of others up to 6400 at 20 to 40 kHz, of more at "
    "128 MHz divided by the counts: see that your bridge takes that.",
    bit_cycles=0.25,
    edge_handler="io_bank0_interrupt",
    loop_handlers=("timer_interrupt", "uart0_interrupt"),
    first={
        Use.SERIAL_OUT: ("GP28",),
        Use.DUTY: _EVEN_FIRST,
        Use.CHANNEL: tuple(f"GP{n}" for n in range(16, 23)),
        Use.PULSE_SUM: ("GP16",),
        Use.CONTACT: ("GP21", "GP22", "GP26", "GP27"),
        Use.BATTERY: ("GP27", "GP26"),
    },
)  # fmt: skip
