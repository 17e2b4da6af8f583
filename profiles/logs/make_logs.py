"""Makes the example logs beside this file, always the same ones.

    python profiles/logs/make_logs.py            write them
    python profiles/logs/make_logs.py --check    exit 1 when the files here are not what would be written

The driver is a model and no person: keyframes of what the hands want, thumbs that need a tenth of a
second, tremor, a receiver with a little noise and a frame time of its own. Things go wrong at fixed times:
frames are missed, the radio is gone for a moment, a channel sticks. Only additions and multiplications of
`random.random()` are used, so that every machine writes the same bytes.
"""

import argparse
import io
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from mixer.runs.log.cells import NO_PULSE, Row
from mixer.runs.log.write import write_log

HERE = Path(__file__).parent
CHANNELS = ("throttle", "steering", "tip", "arm", "pace")
CONTACTS = ("left_out", "left_in", "right_out", "right_in")
ENDS_US = {"throttle": (1010, 1502, 1994), "arm": (1000, 1500, 2000)}
USUAL_ENDS_US = (1000, 1500, 2000)
FRAME_US = 20_030
"""This receiver's frame: a shade over 20 ms, so that it drifts through the firmware's ticks."""

Keyframes = dict[str, list[tuple[float, float]]]
"""For each channel: from this second on the hand wants this position, -1 to 1."""


@dataclass(frozen=True)
class Scene:
    """A drive: what the hands want, and what goes wrong."""

    file: str
    seed: int
    seconds: float
    hands: Keyframes
    gone: list[tuple[float, float]] = field(default_factory=list)
    """Spans in s without any pulse."""
    marked: list[tuple[float, float]] = field(default_factory=list)
    """Spans in s in which the receiver says "no signal": 900 µs on throttle, the rest as it was."""
    stuck: list[tuple[str, float, float]] = field(default_factory=list)
    """Channels that repeat one value for a span in s."""
    missed_share: float = 0.002
    """How many single pulses are missed."""


@dataclass
class Hand:
    """One stick or switch, and the thumb on it."""

    quick: float
    """Travel per second, in units of half the stick."""
    tremor: float
    at: float = 0.0
    shake: float = 0.0

    def move(self, wanted: float, seconds: float, random: Random) -> float:
        """Where it is `seconds` later."""
        most = self.quick * seconds
        self.at += max(-most, min(most, wanted - self.at))
        held = abs(wanted) > 0.02
        self.shake += 0.2 * ((random.random() - 0.5) * self.tremor * held * 4 - self.shake)
        return max(-1.0, min(1.0, self.at + self.shake))


@dataclass
class Tray:
    """One screw: its position from 0 (in) to 1 (out), and a bouncing switch at either end."""

    seconds_full: float
    at: float = 0.0
    bounce: int = 0
    was_at_end: bool = True

    def move(self, command: float, seconds: float, random: Random) -> tuple[int, int]:
        """The readings of the outer and the inner switch."""
        self.at = max(0.0, min(1.0, self.at + command * seconds / self.seconds_full))
        at_end = self.at <= 0.0 or self.at >= 1.0
        if at_end != self.was_at_end:
            self.bounce = 2
        self.was_at_end = at_end
        self.bounce = max(0, self.bounce - 1)
        reading = int(random.random() < 0.5) if self.bounce else int(at_end)
        return (reading, 0) if self.at > 0.5 else (0, reading)


def wanted_at(frames: Sequence[tuple[float, float]], seconds: float) -> float:
    """The last keyframe's position."""
    return next((value for start, value in reversed(frames) if start <= seconds), 0.0)


def rows_of(scene: Scene) -> Iterator[Row]:
    """Every frame of a scene."""
    random = Random(scene.seed)  # noqa: S311 - a model of noise, no secret
    hands = {
        name: Hand(quick=60, tremor=0) if name in {"arm", "pace"} else Hand(quick=16, tremor=0.02)
        for name in CHANNELS
    }
    trays = Tray(6.0), Tray(6.3)
    armed = False
    volts = 12.5
    last: dict[str, int] = dict.fromkeys(CHANNELS, NO_PULSE)
    t_us = 0
    while t_us < scene.seconds * 1_000_000:
        now = t_us / 1_000_000
        places = {
            name: hand.move(wanted_at(scene.hands.get(name, []), now), FRAME_US / 1e6, random)
            for name, hand in hands.items()
        }
        pulses = {name: to_pulse(name, place, random) for name, place in places.items()}
        pulses = spoiled(scene, now, pulses, last, random)
        last = {name: pulse or last[name] for name, pulse in pulses.items()}
        armed = places["arm"] > 0 and not within(now, scene.gone + scene.marked)
        tip = places["tip"] if armed and abs(places["tip"]) > 0.12 else 0.0
        contacts = [level for tray in trays for level in tray.move(tip * 0.9, FRAME_US / 1e6, random)]
        load = abs(places["throttle"]) + 0.6 * abs(places["steering"]) if armed else 0.0
        volts = max(10.0, volts - 0.00004 * load)
        shown = round((volts - 0.55 * load) * 20 + random.random() - 0.5) / 20
        yield Row(0, t_us // 100 * 100, tuple(pulses.values()), tuple(contacts), shown)
        t_us += FRAME_US + int((random.random() - 0.5) * 600)


def to_pulse(name: str, place: float, random: Random) -> int:
    """A position as the receiver sends it, with a µs or two of noise."""
    low, centre, high = ENDS_US.get(name, USUAL_ENDS_US)
    span = high - centre if place > 0 else centre - low
    noise = (random.random() + random.random() + random.random() - 1.5) * 2.4
    return int(centre + place * span + noise + 0.5)


def within(now: float, spans: Sequence[tuple[float, float]]) -> bool:
    """Whether a moment lies in one of the spans."""
    return any(start <= now < end for start, end in spans)


def spoiled(
    scene: Scene, now: float, pulses: dict[str, int], last: dict[str, int], random: Random
) -> dict[str, int]:
    """What really arrives of the pulses."""
    missed = {name: random.random() < scene.missed_share for name in pulses}
    if within(now, scene.gone):
        return dict.fromkeys(pulses, NO_PULSE)
    if within(now, scene.marked):
        return {**last, "throttle": 900}
    held = {name for name, start, end in scene.stuck if start <= now < end and last[name]}
    return {
        name: NO_PULSE if missed[name] else last[name] if name in held else pulse
        for name, pulse in pulses.items()
    }


ARMING = [(0.0, -1.0), (2.0, 1.0)]

TWO_LOADS = Scene(
    file="carrier_two_loads.csv",
    seed=8,
    seconds=120,
    hands={
        "arm": [*ARMING, (117.0, -1.0)],
        "pace": [(0.0, 0.0), (36.0, -1.0), (48.0, 0.0), (70.0, 1.0), (86.0, -1.0), (104.0, 0.0)],
        "throttle": [
            *[(4.0, 0.6), (9.0, 0.85), (14.0, 0.4), (17.0, 0.0), (20.0, 0.9), (27.0, 0.5), (31.0, 0.0)],
            *[(36.5, 0.5), (42.0, 0.0), (50.0, -0.6), (54.0, 0.0), (57.0, 0.8), (68.0, 0.3), (70.5, 1.0)],
            *[(78.0, 0.6), (83.0, 0.0), (87.0, 0.35), (90.0, 0.0), (106.0, -0.7), (111.0, 0.0)],
        ],
        "steering": [
            *[(6.0, 0.3), (8.0, 0.0), (11.0, -0.5), (13.5, 0.0), (22.0, 0.7), (24.0, -0.2), (26.0, 0.0)],
            *[(38.0, 0.2), (40.0, 0.0), (59.0, -0.4), (63.0, 0.5), (66.0, 0.0), (72.0, 0.9), (74.0, 0.0)],
            *[(80.0, -1.0), (82.5, 0.0), (107.0, 0.4), (110.0, 0.0)],
        ],
        "tip": [
            (43.0, 1.0),
            (52.0, 0.0),
            (53.0, -1.0),
            (62.5, 0.0),
            (91.0, 0.8),
            (101.0, 0.0),
            (103.0, -0.9),
        ],
    },
    gone=[(29.0, 29.12)],
)

ROUGH_GROUND = Scene(
    file="carrier_rough_ground.csv",
    seed=21,
    seconds=120,
    hands={
        "arm": [*ARMING, (50.0, -1.0), (52.0, 1.0), (77.0, -1.0), (78.0, 1.0), (118.0, -1.0)],
        "pace": [(0.0, 1.0), (95.0, 0.0)],
        "throttle": [
            *[(4.0 + 1.5 * k, 1.0 if k % 2 else -1.0) for k in range(12)],
            *[(22.0, 0.0), (25.0, 1.0), (33.0, -1.0), (36.0, 1.0), (39.0, 0.0), (42.0, 0.9), (49.0, 0.0)],
            *[(54.0, 0.7), (62.0, 1.0), (71.0, 0.5), (76.0, 0.0), (80.0, -0.5), (84.0, 1.0), (93.0, 0.0)],
            *[(96.0, 0.8), (104.0, -1.0), (108.0, 1.0), (112.0, 0.0)],
        ],
        "steering": [
            *[(27.0, 1.0), (29.0, -1.0), (31.0, 0.0), (37.0, 0.8), (38.5, 0.0), (44.0, -0.6), (48.5, 0.0)],
            *[(56.0, 0.5), (58.0, -0.5), (60.0, 0.0), (65.0, 0.46), (71.5, 0.0), (86.0, -1.0), (92.0, 0.0)],
            *[(98.0, 0.3), (103.0, -0.3), (110.0, 1.0), (111.5, 0.0)],
        ],
        "tip": [(23.0, 0.6), (24.0, 0.0), (72.0, -0.6), (74.0, 0.0)],
    },
    gone=[(34.0, 34.08), (45.0, 46.1), (88.5, 88.66)],
    marked=[(73.0, 74.4)],
    stuck=[("steering", 66.0, 70.5)],
    missed_share=0.006,
)


def sweep(first: float) -> list[tuple[float, float]]:
    """End to end twice, each end held for 0.8 s, then left alone."""
    held = [(first + 1.6 * k, 1.0 if k % 2 else -1.0) for k in range(4)]
    slow = [(first + 6.4 + 0.1 * k, 1.0 - k / 10) for k in range(21)]
    return [*held, *slow, (first + 9.5, 0.0)]


SWEEPS = Scene(
    file="carrier_sweeps.csv",
    seed=3,
    seconds=50,
    hands={
        "throttle": sweep(4.0),
        "steering": sweep(16.0),
        "tip": sweep(28.0),
        "arm": [(0.0, -1.0)],
        "pace": [(0.0, -1.0), (40.0, 0.0), (42.0, 1.0), (44.0, 0.0), (46.0, -1.0)],
    },
    missed_share=0.001,
)

SCENES = (TWO_LOADS, ROUGH_GROUND, SWEEPS)


def text_of(scene: Scene) -> str:
    """The scene's log as it stands in its file."""
    file = io.StringIO(newline="")
    rows = rows_of(scene)
    if scene is SWEEPS:
        rows = (row._replace(contacts=(), volts=None) for row in rows)
        write_log(file, rows, CHANNELS)
    else:
        write_log(file, rows, CHANNELS, CONTACTS, volts=True)
    return file.getvalue()


def main(arguments: Sequence[str] | None = None, folder: Path = HERE) -> int:
    """Write or check; the exit code."""
    parser = argparse.ArgumentParser(description="Make the example logs.")
    parser.add_argument("--check", action="store_true", help="only compare, exit 1 when a file differs")
    check = parser.parse_args(arguments).check
    stale = False
    for scene in SCENES:
        path, fresh = folder / scene.file, text_of(scene).encode()
        if not check:
            path.write_bytes(fresh)
        elif not path.is_file() or path.read_bytes() != fresh:
            sys.stderr.write(f"{path} is not what make_logs.py writes\n")
            stale = True
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
