"""What a board is to a robot: pins and what they carry, timers and what their pins share, how it is built.

A new board is one module beside this one that makes a `Board`, a line in `known.py`, and a HAL in
`mixer/board/firmware`. Everything else, such as whether a robot fits and which wire goes where, is read
off it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from mixer.lower.run.toolchain import Tool

NO_PIN = 0xFF
"""The number of a pin that is not there, as wiring.h writes it."""


class Use(StrEnum):
    """What a wire carries, seen from the board."""

    CHANNEL = "channel"
    """In: one receiver channel; the pin must stamp edges."""
    PULSE_SUM = "pulse-sum"
    """In: all receiver channels one after the other; the pin must stamp edges."""
    CONTACT = "contact"
    """In, pulled up: a switch."""
    SERVO = "servo pulse"
    """Out: a pulse of 100 to 4000 µs every 20 ms."""
    DUTY = "duty"
    """Out: PWM, 0 to the output's `top` counts."""
    DIRECTION = "direction"
    """Out: which way a duty drives."""
    BATTERY = "battery"
    """In: volts behind a divider."""
    SERIAL_OUT = "serial out"
    """Out: telemetry."""
    TICK = "tick"
    """Out, for a scope: high while a tick works. Left out where no pin is free."""


@dataclass(frozen=True, slots=True)
class Pin:
    """One pin that a builder can solder to."""

    name: str
    """As the chip's data sheet calls it: ``PB1``, ``GP16``."""
    number: int
    """As the board's HAL and wiring.h count it."""
    uses: frozenset[Use]
    label: str = ""
    """As the usual boards print it, where that is another name: ``D9``."""
    unit: str = ""
    """The `Unit` whose period its PWM shares; empty for a pin without."""
    side: str = ""
    """The output of that unit. Two pins of one unit and side carry the same signal, so only one is used."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A timer that gives PWM on several pins with one period, so that all of them are alike in it."""

    name: str
    servo: bool
    """Whether it gives servo pulses. While it does, it gives no duty."""
    tops: tuple[int, int] | None
    """The lowest and highest count it can have for full duty, the same on all its pins. None: no duty."""


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """A board, or rather the chip and what the usual boards with it bring out. There is one of each."""

    key: str
    """Its name in profiles and on the command line, and in its HAL's files: ``atmega328p``."""
    name: str
    """Its name for people, and in the frames it sends (16 characters at most)."""
    hz: int
    """Clock of the core."""
    volts: float
    """Level of its pins, and what brings its battery input to full scale."""
    ram_at: int
    """Where RAM begins, as the linker counts it."""
    ram_bytes: int
    flash_bytes: int
    stack_room: tuple[int, int]
    """The first and last address, as the program counts them, of memory where no variable may lie."""
    pins: tuple[Pin, ...]
    units: tuple[Unit, ...]
    bauds: tuple[int, ...]
    """Speeds of the serial line that it makes well enough for the other side, slowest first."""
    most_channels: int
    """Receiver channels with a wire each."""
    most_contacts: int
    compiler: Tool
    sources: tuple[str, ...]
    """Files of `mixer/board/firmware` that only this board needs: its HAL, and what its ``.mk`` names."""
    supply: str
    """What it wants to run on, and by which pin or plug."""
    cautions: tuple[str, ...]
    """What a builder must know of this board, one sentence each."""
    duty_caution: str
    """The same of a robot with duties: how fast they switch."""
    bit_cycles: float
    """A bit on its serial line lasts a whole number of times so many cycles of its clock."""
    once: tuple[str, ...] = ()
    """What has to be done once for each board before it is flashed the first time, in lines of Markdown."""
    stack_bytes: int = 0
    """RAM that is kept for the stack alone, beside `ram_bytes`; 0 where it has what variables leave."""
    edge_handler: str = ""
    """The function that an edge of a channel's wire interrupts for."""
    clock_handlers: tuple[tuple[str, float], ...] = ()
    """Other functions that interrupt, and how often a second at most."""
    loop_handlers: tuple[str, ...] = ()
    """Those that interrupt at most once while a tick works: the main loop has to ask for them again."""
    first: Mapping[Use, tuple[str, ...]] = field(default_factory=dict)
    """Names of pins that are proposed before others for a use, in this order."""

    def pin(self, given: int | str) -> Pin | None:
        """The pin somebody means by ``9``, ``"D9"`` or ``"PB1"``; None where there is none."""
        word = str(given).upper()
        return next((pin for pin in self.pins if word in names_of(pin)), None)

    def bit_us(self, baud: int) -> float:
        """How long a bit on its serial line is at this speed, in µs: the nearest that its divider gives."""
        return round(self.hz / baud / self.bit_cycles) * self.bit_cycles * 1e6 / self.hz

    def unit(self, name: str) -> Unit:
        """The unit of that name. Raises KeyError where there is none."""
        return {unit.name: unit for unit in self.units}[name]


def names_of(pin: Pin) -> tuple[str, ...]:
    """Every word that means a pin in a profile: its names, and the number in the one that boards print."""
    printed = pin.label or pin.name
    number = printed.lstrip("DGP")
    return (pin.name, *filter(None, (pin.label,)), *([number] if number.isdigit() else []))
