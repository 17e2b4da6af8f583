"""The bound of whole rounds against what runs: the firmware of every robot that fits, in its worst ticks.

What a round does can be brought about together but for these, which is why its bound is up to ROUND_CLOSE
times what is seen: an edge is proven to be the end of every pulse at once, and each second one is a begin;
each reading of the clock to be disturbed by an interrupt; each output to turn in the same tick.
"""

import ctypes as c
from contextlib import nullcontext
from pathlib import Path

import pytest

from mixer.board.chip.avr import AvrChip
from mixer.board.engine.flashed import wiring_for
from mixer.board.image.bound import Given, address_of, machine_of, worst_case
from mixer.board.image.elf import Image, Machine, Symbol
from mixer.board.image.paths.depth import Deepest
from mixer.board.image.paths.instruction import Refused
from mixer.board.image.processors import processor_of
from mixer.board.image.rounds import TICK, _require_room
from mixer.board.kinds.known import BOARDS
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.project.timing import firmware_time
from mixer.board.wiring.fit import Wiring
from mixer.errors import ImageError
from mixer.profile.profile import load_profile
from tests.board.image.programs import avr_program
from tests.board.image.worst_ticks import BEFORE, PROFILES, robot, seen, worst_ticks
from tests.lengths import cases

CLOSE_STACK = 1.25
TICK_CLOSE, ROUND_CLOSE = 1.3, 1.55
"""A bound is at most so many times what is seen, of a tick and of a whole round."""


def hold_against(name: str, loadout: str | None, board: str, number: int) -> None:
    """Ticks with the longest frame, live, edges of all channels just before: nothing exceeds its bound."""
    made, proven = robot(name, loadout, board)
    rounds = seen(made, BEFORE[name, board], number)
    ticks = [spent for spent in rounds if spent.tick is not None]
    tick = worst_case(made.image, TICK, Given(made.board.stack_room, sleeps=True)).cycles
    longest, most = max(spent.tick or 0 for spent in ticks), max(spent.whole for spent in rounds)

    assert len(ticks) >= number
    assert any(spent.whole - (spent.tick or 0) > 900 for spent in ticks), "no edges met a tick"
    assert max(spent.whole for spent in rounds if spent.tick is None) <= proven.idle.cycles
    assert max(spent.outputs or 0 for spent in ticks) <= proven.outputs
    assert longest <= tick <= TICK_CLOSE * longest
    assert most <= proven.whole.cycles <= ROUND_CLOSE * most


@pytest.mark.needs_tool("avr-gcc", "simavr", "gcc")
@pytest.mark.parametrize(
    ("name", "loadout", "number"),
    cases([("tank_pair", None, 6)], [("tank_pair", None, 12), ("sample_carrier", "bare", 12)]),
)
def test_no_round_on_the_avr_takes_longer_than_proven(name: str, loadout: str | None, number: int) -> None:
    """Idle, a tick, to the outputs, in whole; close to what is proven, as said above."""
    hold_against(name, loadout, "atmega328p", number)


@pytest.mark.needs_tool("arm-none-eabi-gcc", "node", "rp2040js")
@pytest.mark.parametrize(
    ("name", "loadout", "number"),
    cases(
        [],
        [
            ("tank_pair", None, 20),
            ("sample_carrier", None, 20),
            ("holonomic_trio", None, 20),
            ("long_crawler", None, 20),
        ],
    ),
)
def test_no_round_on_the_rp2040_takes_longer_than_proven(
    name: str, loadout: str | None, number: int
) -> None:
    """The same; what its bus waits is added to the simulator's cycles by the data sheet."""
    hold_against(name, loadout, "rp2040", number)


def edited(board: str, *edits: tuple[str, str, str]) -> tuple[Wiring, Image]:
    """The small robot's firmware with something else in some files."""
    wiring = wiring_for(load_profile(PROFILES / "tank_pair.toml"), None, board)
    files = dict(sources_of(load_profile(PROFILES / "tank_pair.toml"), None, wiring))
    for name, old, new in edits:
        assert files[name].count(old) == 1, f"{name} has changed: {old}"
        files[name] = files[name].replace(old, new)
    return wiring, image_of_project(files, wiring.board)


TAKES = "static void take_edges(void)\n{"
WAITS = f"static volatile uint8_t there;\n{TAKES}\n    while (!there) {{\n    }}\n"
COUNTS = "k < EDGES_A_ROUND && found"


@pytest.mark.parametrize(
    ("board", "edit"),
    [
        pytest.param("atmega328p", ("main.c", TAKES, WAITS), marks=pytest.mark.needs_tool("avr-gcc")),
        pytest.param(
            "rp2040", ("main.c", COUNTS, "found"), marks=pytest.mark.needs_tool("arm-none-eabi-gcc")
        ),
    ],
)
def test_a_loop_without_an_end_is_refused(board: str, edit: tuple[str, str, str]) -> None:
    """One that waits for something, and one that takes edges as long as there are some: with its place."""
    wiring, image = edited(board, edit)
    profile = load_profile(PROFILES / "tank_pair.toml")
    with pytest.raises(ImageError, match=r"no bound for board_round: a loop .* \(board_round"):
        firmware_time(profile, None, wiring, image)


@pytest.mark.needs_tool("avr-gcc")
def test_a_longer_interrupt_moves_the_figure() -> None:
    """Seventeen cycles more for each edge are that many more in a round, and none in the program itself."""
    edit = (
        "capture_atmega328p.S",
        "        sts  capture_head, r30\n",
        "nop\n" * 17 + "        sts  capture_head, r30\n",
    )
    wiring, image = edited("atmega328p", edit)
    _, right = robot("tank_pair", None, "atmega328p")
    wrong = firmware_time(load_profile(PROFILES / "tank_pair.toml"), None, wiring, image).round
    assert wrong is not None
    assert wrong.whole.cycles == right.whole.cycles
    assert wrong.cycles is not None
    assert wrong.cycles - (right.cycles or 0) == 17 * 2 * wiring.channels


@pytest.mark.needs_tool("avr-gcc", "simavr", "gcc")
def test_the_stack_goes_no_deeper_than_proven() -> None:
    """Rubbish at power-up, and what of it is left in the stack's memory after a drive and a late tick."""
    made, proven = robot("tank_pair", None, "atmega328p")
    edges, stretches = worst_ticks(made, BEFORE["tank_pair", "atmega328p"], 4)
    chip = AvrChip(made.image)
    try:
        first, last = made.board.stack_room
        memory = chip._data + first
        before = c.string_at(memory, last - first + 1)
        chip.run(stretches[-1][1], edges)
        chip.halt(80_000)
        chip.run(chip.cycle + 200_000)
        after = c.string_at(memory, len(before))
    finally:
        chip.close()
    deep = len(before) - next(
        at for at, (was, is_) in enumerate(zip(before, after, strict=True)) if was != is_
    )
    assert deep <= proven.stack <= CLOSE_STACK * deep


def test_a_variable_where_the_stack_has_its_room_is_refused() -> None:
    """A store into it might be one into the stack; a table in flash at that address is none."""
    room = BOARDS["atmega328p"].stack_room
    for address, refused in ((0x800700 - 8, False), (0x800700 - 7, True), (0x8008FF, True), (0x750, False)):
        symbols = {"main": Symbol("main", 0, 2, True), "table": Symbol("table", address, 8, False)}
        image = Image("x", Machine.AVR, (), symbols, "", 5)
        told = pytest.raises(ImageError, match="`table` lies in the stack's memory")
        with told if refused else nullcontext():
            _require_room(image, room)


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.parametrize(
    ("body", "why"),
    [
        ('for (;;) { out[0] = in[0]; __asm__ volatile("push r24"); }', "is not as deep there on one way"),
        ("if (in[0]) { routine(); out[1] = in[1]; }", "it calls itself"),
    ],
)
def test_a_stack_without_an_end_is_refused(body: str, why: str, tmp_path: Path) -> None:
    """A loop that pushes and never pops, and a routine that calls itself."""
    image = avr_program(tmp_path, f"void __attribute__((noinline)) routine(void) {{ {body} }}")
    machine = machine_of(image, processor_of(image), Given())
    with pytest.raises(Refused, match=why):
        Deepest(machine).bytes_of(address_of(image, "main"))


@pytest.mark.needs_tool("avr-gcc")
def test_the_depth_of_a_program_that_waits_and_never_ends_is_found(tmp_path: Path) -> None:
    """Three routines deep, behind a wait: return addresses of two bytes, and one byte saved."""
    text = """
    void __attribute__((noinline)) deep(void) { __asm__ volatile("push r24 \\n pop r24"); }
    void __attribute__((noinline)) routine(void) { while (!in[0]) { } deep(); out[0] = 1; }
    """
    image = avr_program(tmp_path, text)
    machine = machine_of(image, processor_of(image), Given())
    assert Deepest(machine).bytes_of(address_of(image, "main")) == 2 + 2 + 2 + 1
