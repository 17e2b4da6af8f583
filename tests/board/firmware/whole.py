"""The whole firmware of an ATmega328P with a mix that the test holds in its hand, on a simulated chip.

chip = Whole(wiring(tick_ms=5))
seen = chip.run_ms(100)
chip.wires(120, 1500)
"""

import struct
from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from mixer.board.chip.avr import HZ, AvrChip
from mixer.board.chip.chip import Edge, Seen, edges_of
from mixer.board.image.elf import image_of
from tests.board.images import built

US = HZ // 1_000_000
MS = HZ // 1000
STUB = Path(__file__).with_name("stub")
PULSE, DUTY, BRIDGE = "OUTPUT_PULSE", "OUTPUT_DUTY", "OUTPUT_BRIDGE"
NONE = 0xFF
PINS = {f"P{port}{bit}": 8 * at + bit for at, port in enumerate("BCD") for bit in range(8)}

ALL_KINDS = (
    (PULSE, "PB1", "", 1500, 0),
    (PULSE, "PB2", "", 1000, 0),
    (DUTY, "PB3", "PD4", 0, 0),
    (DUTY, "PD3", "PD7", 0, 0),
    (DUTY, "PD5", "PB4", 0, 0),
    (DUTY, "PD6", "PC5", 0, 0),
)
"""Every output the chip has: kind, pin, direction pin, rest, brake."""

BRIDGES = ((BRIDGE, "PD6", "PD5", 0, 0), (BRIDGE, "PB3", "PD3", 0, 1))
"""Two bridges with two inputs each, one that coasts at rest and one that brakes."""


def wiring(
    outputs: Sequence[tuple[str, str, str, int, int]],
    *,
    tick_ms: int = 5,
    channels: Sequence[str] = ("PC0", "PC1", "PC2", "PC3", "PB0"),
    **more: int | str,
) -> str:
    """A wiring.h as the project's generator writes it, with a line fast enough for every frame."""
    kinds, pins, directions, rests, brakes = zip(*outputs, strict=True)
    lists = {
        "CHANNEL_PINS": [PINS.get(name, NONE) for name in channels],
        "OUTPUT_KINDS": kinds,
        "OUTPUT_PINS": [PINS[name] for name in pins],
        "OUTPUT_DIRECTION_PINS": [PINS.get(name, NONE) for name in directions],
        "OUTPUT_TOPS": [0 if kind == PULSE else 255 for kind in kinds],
        "OUTPUT_RESTS": rests,
        "OUTPUT_BRAKES": brakes,
    }
    single = {
        "WIRING_FINGERPRINT": '"3da13a33f4b7"',
        "MIX_TICK_MS": tick_ms,
        "FRAME_US": f"{tick_ms * 1000}UL",
        "BAUD": "1000000UL",
        "CHANNELS": len(channels),
        "CONTACTS": 0,
        "BATTERY_FULL_SCALE_MV": 0,
        "TICK_PIN": PINS["PB5"],
        "OUTPUTS": len(outputs),
    } | more
    lines = [f"#define {name} {value}" for name, value in single.items()]
    lines += [f"#define {name} {{ {', '.join(map(str, items))} }}" for name, items in lists.items()]
    return "\n".join(lines) + "\n"


class Whole:
    """One board with a wiring, powered up, RAM random."""

    def __init__(self, wiring_text: str, seed: int = 1, **choices: int) -> None:
        image = built("atmega328p", "firmware.elf", wiring_text, mix=str(STUB), **choices)
        self.chip = AvrChip(image_of(image, "firmware.elf"), seed)
        self.sent = bytearray()
        """Everything the serial line has carried."""
        self._seen: list[Seen] = []

    def run_to(self, cycle: int, edges: Sequence[Edge] = ()) -> Seen:
        """Run to a cycle and keep what was seen."""
        seen = self.chip.run(cycle, edges)
        self.sent += bytes(byte for byte, _ in seen.sent)
        self._seen.append(seen)
        return seen

    def run_ms(self, ms: float, edges: Sequence[Edge] = ()) -> Seen:
        """Run on for so long."""
        return self.run_to(self.chip.cycle + round(ms * MS), edges)

    def wires(self, *wires: int) -> None:
        """What the mix gives from its next tick on."""
        self.chip.poke("script", struct.pack(f"<{len(wires)}h", *wires))

    def on(self, pin: str, since: int = 0) -> list[Edge]:
        """A pin's edges from a cycle on."""
        edges = [
            edge
            for seen in self._seen
            for edge in edges_of(
                Seen(
                    [edge for edge in seen.edges if edge.pin == pin],
                    [train for train in seen.trains if train.pin == pin],
                    [],
                    [],
                )
            )
        ]
        return edges[bisect_left(edges, since, key=lambda edge: edge.cycle) :]

    def highs(self, pin: str, since: int = 0) -> list[tuple[int, int]]:
        """Each whole pulse on a pin: when it rose, and for how many cycles it was high."""
        edges = self.on(pin, since)
        return [
            (rise.cycle, fall.cycle - rise.cycle)
            for rise, fall in pairwise(edges)
            if rise.level == 1 and fall.level == 0
        ]
