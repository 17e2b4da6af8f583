"""A robot's whole firmware on the simulated RP2040: its receiver's pulses, and what it says and shows."""

import tempfile
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path

from mixer.board.chip.chip import Edge, Seen
from mixer.board.chip.rp2040 import Rp2040Chip
from mixer.board.frames import Decoder, Event
from mixer.board.image.elf import Image, image_of
from mixer.core.plan import Plan
from mixer.profile.profile import fingerprint_of
from tests.board.images import built
from tests.lower.c_exports import plan_of_robot, write_mix

US, MS = 128, 128_000
TICK_PIN = "GP15"
PERIOD_US = 20_003.7
"""A receiver's and a board's clock never agree: with one period exact, all edges would fall alike."""

COMMON = """
#define WIRING_FINGERPRINT "3da13a33f4b7"
#define PULSE_SUM 0
#define CHANNELS 6
#define CHANNEL_PINS { 16, 17, 18, 19, 20, 21 }
#define CONTACTS 4
#define CONTACT_INPUT_PINS { 22, 26, 12, 13 }
#define TICK_PIN 15
#define BATTERY_PIN 27
#define BATTERY_FULL_SCALE_MV 28500
#define FRAME_US 2000UL
#define BAUD 1000000UL
"""
CARRIER = (
    COMMON
    + """
#define OUTPUTS 6
#define OUTPUT_KINDS { OUTPUT_DUTY, OUTPUT_DUTY, OUTPUT_BRIDGE, OUTPUT_BRIDGE, OUTPUT_DUTY, OUTPUT_DUTY }
#define OUTPUT_PINS { 0, 2, 4, 6, 8, 10 }
#define OUTPUT_DIRECTION_PINS { 1, 3, 5, 7, 9, 11 }
#define OUTPUT_TOPS { 255, 255, 255, 255, 255, 255 }
#define OUTPUT_RESTS { 0, 0, 0, 0, 0, 0 }
#define OUTPUT_BRAKES { 1, 1, 0, 1, 1, 1 }
"""
)
TRIO = """
#define PULSE_SUM 0
#define CHANNELS 7
#define CHANNEL_PINS { 16, 17, 18, 19, 20, 21, 22 }
#define CONTACTS 0
#define CONTACT_INPUT_PINS { 255 }
#define TICK_PIN 15
#define BATTERY_FULL_SCALE_MV 0
#define FRAME_US 2000UL
#define BAUD 1000000UL
#define OUTPUTS 3
#define OUTPUT_KINDS { OUTPUT_PULSE, OUTPUT_PULSE, OUTPUT_PULSE }
#define OUTPUT_PINS { 0, 1, 2 }
#define OUTPUT_DIRECTION_PINS { 255, 255, 255 }
#define OUTPUT_TOPS { 0, 0, 0 }
#define OUTPUT_RESTS { 1500, 1500, 1500 }
#define OUTPUT_BRAKES { 0, 0, 0 }
"""


@cache
def image(robot: str, wiring: str) -> Image:
    """The firmware of an example robot with these wires."""
    plan = plan_of_robot(robot)
    with tempfile.TemporaryDirectory() as folder:
        write_mix(Path(folder), plan, fingerprint_of(plan))
        return image_of(built("rp2040", "firmware.elf", wiring, folder), f"{robot}.elf")


Widths = Callable[[float], Sequence[float]]
"""The width of each channel's pulse in µs at a time in ms; 0 for none."""


def pulses(widths: Widths, first_ms: float, last_ms: float, apart_us: float = 2_210.0) -> Iterator[Edge]:
    """Receiver frames on the channel wires, each channel's pulse `apart_us` after the one before it."""
    for n in range(int(first_ms * 1000 // PERIOD_US), int(last_ms * 1000 // PERIOD_US) + 1):
        for channel, width in enumerate(widths(n * PERIOD_US / 1000)):
            rise = n * PERIOD_US + channel * apart_us
            if width and first_ms * 1000 <= rise < last_ms * 1000:
                yield Edge(round(rise * US), f"GP{16 + channel}", 1)
                yield Edge(round((rise + width) * US), f"GP{16 + channel}", 0)


class Robot:
    """One board from power-up on."""

    def __init__(self, robot: str, wiring: str, seed: int = 1) -> None:
        self.plan: Plan = plan_of_robot(robot)
        self.chip = Rp2040Chip(image(robot, wiring), seed, baud=1_000_000)
        self.decoder = Decoder()
        self.events: list[Event] = []
        self.shown: list[Seen] = []

    def run(self, until_ms: float, widths: Widths, apart_us: float = 2_210.0) -> Seen:
        """Run on with pulses; in pieces, as whoever uses a chip does."""
        began = self.chip.cycle / MS
        edges = sorted(pulses(widths, began, until_ms, apart_us))
        seen = self.chip.run(round(until_ms * MS), edges)
        self.events += self.decoder.feed(bytes(byte for byte, _ in seen.sent))
        self.shown.append(seen)
        return seen
