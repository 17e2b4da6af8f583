"""ATmega328P at 16 MHz and 5 V, on the small boards that print D0 to D13 and A0 to A5.

Timer 1 keeps time in periods of 20 ms and, by its two compare units, gives two servo pulses; timers 0 and 2
give two duties each with 255 counts for full, at 31.4 kHz. One interrupt stamps edges and reads two ports:
channels are on port B or C (data sheet: ATmega48A/PA/88A/PA/168A/PA/328/P, chapters 13 to 18; brown-out and
the supply that a clock needs: chapter 29).
"""

from mixer.board.kinds.kind import Board, Pin, Unit, Use
from mixer.lower.run.toolchain import Tool

AVR_COMPILER = Tool(
    "the AVR compiler",
    ("avr-gcc",),
    "STICKWRIGHT_AVR_CC",
    "apt-get install gcc-avr avr-libc (macOS: the formula avr-gcc)",
)

_PORTS = {"PB": 0, "PC": 8, "PD": 16}
_STAMPS = frozenset({Use.CHANNEL, Use.PULSE_SUM})
_ANY = frozenset({Use.CONTACT, Use.DIRECTION, Use.TICK})


def _pin(name: str, label: str, *more: Use, unit: str = "", side: str = "") -> Pin:
    uses = _ANY | set(more) | (_STAMPS if name[:2] in ("PB", "PC") else frozenset())
    return Pin(name, _PORTS[name[:2]] + int(name[2]), uses, label, unit, side)


_PINS = (
    _pin("PD2", "D2"),
    _pin("PD3", "D3", Use.DUTY, unit="timer 2", side="B"),
    _pin("PD4", "D4"),
    _pin("PD5", "D5", Use.DUTY, unit="timer 0", side="B"),
    _pin("PD6", "D6", Use.DUTY, unit="timer 0", side="A"),
    _pin("PD7", "D7"),
    _pin("PB0", "D8"),
    _pin("PB1", "D9", Use.SERVO, unit="timer 1", side="A"),
    _pin("PB2", "D10", Use.SERVO, unit="timer 1", side="B"),
    _pin("PB3", "D11", Use.DUTY, unit="timer 2", side="A"),
    _pin("PB4", "D12"),
    _pin("PB5", "D13"),
    *(_pin(f"PC{n}", f"A{n}", Use.BATTERY) for n in range(6)),
    *(Pin(f"ADC{n}", 18 + n, frozenset({Use.BATTERY}), f"A{n}") for n in (6, 7)),
    Pin("PD1", 17, frozenset({Use.SERIAL_OUT}), "D1"),
)

ATMEGA328P = Board(
    key="atmega328p",
    name="ATmega328P",
    hz=16_000_000,
    volts=5.0,
    ram_at=0x800100,
    ram_bytes=2048,
    flash_bytes=32_768 - 512,
    stack_room=(0x700, 0x8FF),
    pins=_PINS,
    units=(
        Unit("timer 0", servo=False, tops=(255, 255)),
        Unit("timer 1", servo=True, tops=None),
        Unit("timer 2", servo=False, tops=(255, 255)),
    ),
    bauds=(115_200, 250_000, 500_000, 1_000_000),
    most_channels=8,
    most_contacts=8,
    compiler=AVR_COMPILER,
    sources=("hal_atmega328p.c", "capture_atmega328p.S"),
    supply="5 V on its 5V pin, or its USB plug: one of them, never both",
    cautions=(
        "It runs at 5 V and reads 3 V and more as high; nothing above 5.5 V may reach a pin.",
        "Opening its serial port resets it on the usual boards: never open the port while it drives.",
    ),
    duty_caution="Duties switch at 31.4 kHz. For a bridge that does not switch so fast give the choice to "
    "every `make`, above all to the one that flashes: `make DUTY_HZ=3922 flash`.",
    bit_cycles=8,
    once=(
        "Once for each chip, by a programmer on its six pins (a boot loader cannot write fuses):",
        "",
        "    make fuses PROGRAMMER=usbasp",
        "",
        "It sets the brown-out level to 4.3 V. The usual boards come with 2.7 V, and between that and 3.8",
        "V a chip at 16 MHz may compute anything.",
    ),
    edge_handler="__vector_3",
    clock_handlers=(("__vector_13", 50.0),),
    first={
        Use.CHANNEL: ("PB0", "PB4", "PC0", "PC1", "PC2", "PC3", "PC4", "PB3", "PC5"),
        Use.PULSE_SUM: ("PB0",),
        Use.CONTACT: ("PD4", "PD7", "PD2"),
        Use.BATTERY: ("PC5", "PC4"),
        Use.TICK: ("PB5",),
    },
)  # fmt: skip
