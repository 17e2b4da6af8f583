"""Robots' firmware through its worst ticks: what each round takes, and what is proven of it."""

from functools import cache, partial
from pathlib import Path

from mixer.board.chip.chip import Edge
from mixer.board.engine.flashed import Flashed, flash
from mixer.board.image.avr import decode as avr
from mixer.board.image.elf import Machine
from mixer.board.image.rounds import RoundTime
from mixer.board.image.thumb import decode as thumb
from mixer.board.project.timing import firmware_time
from mixer.profile.profile import load_profile
from tests.board.engine.drives import short_drive
from tests.boards.rounds import Spent, Stretch, spent_in, steps_of

PROFILES = Path(__file__).parents[3] / "profiles"
EVERY = 64
"""So manieth tick tells who the board is: the longest frame."""
BEFORE = {
    ("tank_pair", "atmega328p"): 5200,
    ("tank_pair", "rp2040"): 5100,
    ("sample_carrier", "atmega328p"): 6500,
    ("sample_carrier", "rp2040"): 6800,
    ("holonomic_trio", "rp2040"): 5200,
    ("long_crawler", "rp2040"): 6300,
}
"""Cycles from edges that meet a tick's round to the time that `time_of` gives, behind the tick's work: some
hundred more or less do as well."""
APART = {"atmega328p": 55, "rp2040": 90}
"""Cycles between such edges: a little more than their interrupt takes, so that little else runs."""


@cache
def robot(name: str, loadout: str | None, board: str) -> tuple[Flashed, RoundTime]:
    """Its image, and what is proven of it."""
    profile = load_profile(PROFILES / f"{name}.toml")
    made = flash(profile, loadout, board)
    proven = firmware_time(profile, loadout, made.wiring, made.image).round
    assert proven is not None
    return made, proven


def worst_ticks(made: Flashed, before: int, number: int) -> tuple[list[Edge], list[Stretch]]:
    """A drive with so many ticks that tell who the board is, each after six edges of all channels."""
    run, key = made.power_up(), made.board.key
    rows = short_drive(made.plan, 64 * number // 10 + 20)
    for inputs in rows:
        run.plan(inputs)
    edges = [Edge(0, pin, 0) for pin in dict.fromkeys(run.pins.channels)]
    edges += [edge for edge in run._planned if edge.cycle > 0]
    stretches = []
    for n in range(EVERY - 1, EVERY * (number + 1) - 1, EVERY):
        due = run.time_of(n)
        begin = due - before - 20 * (n // EVERY)
        edges += [
            Edge(begin + k * APART[key], pin, 1 - k % 2) for k in range(6) for pin in set(run.pins.channels)
        ]
        stretches.append((due - 8000, due + 30_000))
    run.chip.close()
    return sorted(edges), stretches


def seen(made: Flashed, before: int, number: int) -> list[Spent]:
    """Every round around so many worst ticks, cycles of interrupts left out."""
    decode = avr.decode if made.image.machine == Machine.AVR else thumb.decode
    told = steps_of(made.image, *worst_ticks(made, before, number))
    at = partial(decode, made.image.code)
    return [spent for steps in told for spent in spent_in(made.image, at, steps)]
