"""What the link costs on this machine.

    python tests/bench/bench_link.py

Decoder throughput on good frames and on noise, worst-case fragmented input, and the latency from the last
byte of a frame on a pty to new outputs: serial port, decoder and one tick of the core included; and what
comparing a board's mix with the core adds to reading it. Latencies are of this machine; ratios to the bare
pty are printed beside them.
"""

import os
import random
import statistics
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from mixer.board.frames import BoardMix, Decoder, Frame, encode
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.link.parity import Parity
from mixer.link.serial_port import open_serial

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a file, Python looks beside it only

from tests.link.ptys import PtyFarEnd
from tests.lower.c_exports import plan_of_robot
from tests.plans import cart_plan
from tests.strategies import neutral_row

FRAMES = 20_000
ROUNDS = 300


def megabytes_a_second(data: bytes, piece: int) -> float:
    """How fast a fresh decoder takes this in pieces of a size."""
    decoder = Decoder()
    start = time.perf_counter()
    for at in range(0, len(data), piece):
        decoder.feed(data[at : at + piece])
    return len(data) / (time.perf_counter() - start) / 1e6


def print_throughput() -> None:
    """Good frames, noise, zeros, tiny pieces."""
    wide = (3000, 2001, 2800, 2000, 3000, 3000, 4000, 2000)
    good = b"".join(
        encode(Frame(n & 0xFFFF, n * 20_000 & 0xFFFFFFFF, wide, 3, 11_100)) for n in range(FRAMES)
    )
    noise = random.Random(1).randbytes(len(good))
    for name, data, piece in (
        ("good frames, 4096 bytes at a time", good, 4096),
        ("good frames, as a serial port gives them (32)", good, 32),
        ("good frames, one byte at a time", good[:200_000], 1),
        ("random bytes", noise, 4096),
        ("damaged: every other byte is 0", bytes(b for byte in noise[:300_000] for b in (byte, 0)), 4096),
    ):
        print(f"{name}: {megabytes_a_second(data, piece):.1f} MB/s (needs 1)")  # noqa: T201


def latencies_ms(use: Callable[[bytes], bool]) -> list[float]:
    """Last byte written -> `use` says that the frame's effect is there, at 100 frames a second."""
    found: list[float] = []
    with PtyFarEnd() as far, open_serial(far.path) as port:
        written = [0.0]

        def send() -> None:
            for n in range(ROUNDS):
                time.sleep(0.01)
                wire = encode(Frame(n, (n + 1) * 10_000, (3000 + n % 500, 3000, 4000), 1, 7400))
                written[0] = time.perf_counter()
                far.write(wire)

        sender = threading.Thread(target=send)
        sender.start()
        while len(found) < ROUNDS:
            if use(port.read(0.5)):
                found.append((time.perf_counter() - written[0]) * 1000)
        sender.join()
    return found


def print_latency() -> None:
    """The bare pty, and the whole way to new outputs."""
    plan = cart_plan()
    state = list(layout_of(plan).start)
    decoder = Decoder()

    def to_outputs(data: bytes) -> bool:
        nonlocal state
        frames = [event for event in decoder.feed(data) if isinstance(event, Frame)]
        for frame in frames:
            _, state = flat_tick(plan, [*frame.pulses_us, frame.level(0)], state)
        return bool(frames)

    bare = statistics.median(latencies_ms(lambda data: data.endswith(b"\0")))
    whole = sorted(latencies_ms(to_outputs))
    median, late = statistics.median(whole), whole[int(len(whole) * 0.95)]
    print(f"bare pty: median {bare:.2f} ms")  # noqa: T201
    print(f"last byte to new outputs: median {median:.2f} ms, p95 {late:.2f} ms, "  # noqa: T201
          f"{median / bare:.1f} x the bare pty (needs median < 5 ms)")  # fmt: skip


def frames_of(plan: Plan, number: int) -> list[Frame]:
    """A board with this plan's mix, from its start, at rest and disarmed."""
    layout = layout_of(plan)
    state, row = list(layout.start), neutral_row(plan, armed=False)
    channels = len(plan.channels)
    widths = tuple(2 * pulse for pulse in row[:channels])
    contacts = sum(level << bit for bit, level in enumerate(row[channels:]))
    frames = []
    for n in range(number):
        signals, state = flat_tick(plan, row, state)
        wires = tuple(signals[output.wire] for output in layout.places.outputs)
        mix = BoardMix(signals[layout.places.guard.state], wires)
        frames.append(Frame(n & 0xFFFF, (n + 1) * plan.tick_ms * 1000, widths, contacts, 7400, mix))
    return frames


def print_parity() -> None:
    """What comparing a board's mix adds to reading its frames, and finding its state out while it runs."""
    plan = plan_of_robot("sample_carrier")
    frames = frames_of(plan, 5000)
    wire = b"".join(map(encode, frames))

    def took_us(work: Callable[[], object]) -> float:
        start = time.perf_counter()
        work()
        return (time.perf_counter() - start) / len(frames) * 1e6

    read = took_us(lambda: Decoder().feed(wire))
    parity, middle = Parity(plan), Parity(plan)
    compared = took_us(lambda: parity.take(frames))
    narrowed = took_us(lambda: middle.take([replace(frames[0], sequence=9), *frames[1:]]))
    share = (compared + read) / (plan.tick_ms * 1000)
    print(f"a frame of the carrier's mix: read {read:.0f} us, compared {compared:.0f} us more "  # noqa: T201
          f"({compared / read:.1f} x reading); {share:.1%} of a core (needs 10 %)")  # fmt: skip
    print(f"while its state is found out: {narrowed:.0f} us a frame ({narrowed / read:.0f} x reading), "  # noqa: T201
          f"{narrowed / (plan.tick_ms * 1000):.0%} of a core (needs 40 %)")  # fmt: skip


def main() -> None:
    """Print all figures."""
    print(f"load {os.getloadavg()[0]:.1f}")  # noqa: T201
    print_throughput()
    print_latency()
    print_parity()


if __name__ == "__main__":
    main()
