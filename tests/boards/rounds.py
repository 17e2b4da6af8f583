"""Rounds of a board's firmware on its simulated chip, one instruction at a time: what each took.

Cycles are those of the program itself, interrupts left out, as the bound of a round has them.
"""

import ctypes as c
import json
import subprocess
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from mixer.board.chip import rp2040
from mixer.board.chip.avr import AvrChip
from mixer.board.chip.chip import Edge
from mixer.board.chip.node import NODE, simulator_folder
from mixer.board.image.elf import Image, Machine
from mixer.board.image.paths.instruction import Instruction
from mixer.board.image.rounds import BEGIN, OUTPUTS, ROUND, TICK
from mixer.lower.run.toolchain import find

_PROGRAM_COUNTER = 204
"""Offset of simavr 1.6's `avr_t`."""
_VECTORS, _RETURN, _ENTRY = range(4, 4 * 26), b"\x18\x95", 4
"""Where interrupts lead, the instruction with which they end, and the cycles of entering one."""
Step = tuple[int, int, int]
"""From, to, cycles."""


@dataclass
class Spent:
    """What one round took."""

    whole: int = 0
    tick: int | None = None
    """Of it `board_tick`, where it was called."""
    begin: int | None = None
    """Of it `board_begin`."""
    outputs: int | None = None
    """From the round's beginning until `hal_outputs` had returned."""


Stretch = tuple[int, int]
"""First and last cycle, since power-up."""


def steps_of(image: Image, edges: Sequence[Edge], stretches: Sequence[Stretch]) -> Iterator[Iterable[Step]]:
    """Each instruction of the main program in some stretches, handlers of interrupts passed over."""
    if image.machine == Machine.ARM:
        yield from _m0_steps(image, edges, stretches)
        return
    chip = AvrChip(image)
    try:
        for begin, end in stretches:
            chip.run(begin, [edge for edge in edges if chip.cycle < edge.cycle <= begin])
            yield _avr_steps(chip, end, [edge for edge in edges if begin < edge.cycle <= end])
    finally:
        chip.close()


def _avr_steps(chip: AvrChip, until: int, edges: Sequence[Edge]) -> Iterator[Step]:
    counter = c.c_uint32.from_address(int(chip._avr) + _PROGRAM_COUNTER)
    inside, taken = 0, 0
    while chip.cycle < until:
        at, before = counter.value, chip.cycle
        due = [edge for edge in edges[taken : taken + 16] if edge.cycle <= before + 8]
        taken += len(due)
        chip.run(before + 1, due)
        to = counter.value
        enters = to in _VECTORS
        if not inside:
            yield at, to, chip.cycle - before - _ENTRY * enters
        elif chip._image.code(at, 2) == _RETURN:
            inside -= 1
        inside += enters
    chip.run(chip.cycle + 1, edges[taken:])


def spent_in(image: Image, decode: Callable[[int], Instruction], steps: Iterable[Step]) -> Iterator[Spent]:
    """The whole rounds among these steps."""
    begins = {image.symbols[name].address: name for name in (ROUND, TICK, BEGIN, OUTPUTS)}
    homes: dict[str, int] = {}
    since: dict[str, int] = {}
    now = Spent()
    for at, to, took in steps:
        now.whole += took
        name = begins.get(to)
        if name is not None:
            homes[name] = decode(at).end
            if name == ROUND:
                now = Spent()
            since[name] = now.whole
            continue
        for name, home in list(homes.items()):
            if to == home:
                del homes[name]
                _left(now, name, since[name])
                if name == ROUND:
                    yield now


def _left(now: Spent, name: str, since: int) -> None:
    if name == TICK:
        now.tick = now.whole - since
    elif name == BEGIN:
        now.begin = now.whole - since
    elif name == OUTPUTS:
        now.outputs = now.whole


def _m0_steps(image: Image, edges: Sequence[Edge], stretches: Sequence[Stretch]) -> list[list[Step]]:
    program = {
        "parts": [[part.flashed_at, part.data.hex()] for part in image.parts],
        "edges": [number for edge in edges for number in (edge.cycle, int(edge.pin[2:]), edge.level)],
        "stretches": stretches,
    }
    script, chips = Path(__file__).with_name("rounds.mjs"), Path(rp2040.__file__).with_name("rp2040js")
    command = [*find(NODE), str(script), str(simulator_folder()), str(chips)]
    done = subprocess.run(
        command, input=json.dumps(program), capture_output=True, text=True, check=True, timeout=60
    )
    return [list(zip(*[iter(told)] * 3, strict=True)) for told in json.loads(done.stdout)]
