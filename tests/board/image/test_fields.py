"""Slots in RAM by name, and their places as the compilers themselves lay them out."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from mixer.board.engine.flashed import wiring_for
from mixer.board.image.fields import Slot, slots_of
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.profile.profile import load_profile

PROFILES = Path(__file__).parents[3] / "profiles"
BOARDS = [
    pytest.param("atmega328p", "avr-gcc", marks=pytest.mark.needs_tool("avr-gcc")),
    pytest.param("rp2040", "arm-none-eabi-gcc", marks=pytest.mark.needs_tool("arm-none-eabi-gcc")),
]
pytestmark = [pytest.mark.no_cover, pytest.mark.needs_tool("make")]


@pytest.mark.parametrize(("board", "compiler"), BOARDS)
def test_offsets_are_the_compilers(board: str, compiler: str, tmp_path: Path) -> None:
    """Every field of the board's and the mix's structures, by `offsetof` (C99, 7.17) in their sources."""
    profile = load_profile(PROFILES / "tank_pair.toml")
    wiring = wiring_for(profile, None, board)
    sources = sources_of(profile, None, wiring)
    slots = list(slots_of(image_of_project(sources, wiring.board), sources))
    inside = [slot for slot in slots if slot.symbol in ("board", "state")]
    assert len(inside) > 30
    for name, text in sources.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    checks = "\n".join(_check(number, slot) for number, slot in enumerate(inside))
    source = tmp_path / "main.c"
    source.write_text(
        f"#include <stddef.h>\n{source.read_text(encoding='utf-8')}\n{checks}\n", encoding="utf-8"
    )
    found = shutil.which(compiler)
    assert found is not None
    chip = ["-mmcu=atmega328p"] if board == "atmega328p" else ["-mcpu=cortex-m0plus", "-mthumb"]
    flags = [*chip, "-DWITH_WIRING=1", "-DWITH_MIX=1", "-std=gnu99", "-fsyntax-only"]
    done = subprocess.run(
        [found, *flags, "main.c"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[:2000]


def _check(number: int, slot: Slot) -> str:
    kind = "board_t" if slot.symbol == "board" else "struct mix_state"
    path = slot.name.partition(".")[2]
    fits = f"offsetof({kind}, {path}) == {slot.offset} && sizeof((({kind} *)0)->{path}) == {slot.size}"
    return f"typedef char slot_{number}[{fits} ? 1 : -1];"


@pytest.mark.parametrize(("board", "compiler"), BOARDS)
def test_every_variable_in_ram_has_slots(board: str, compiler: str) -> None:
    """The mix's state by the names of its fields, the chip's own variables; each within its variable."""
    del compiler
    profile = load_profile(PROFILES / "tank_pair.toml")
    wiring = wiring_for(profile, None, board)
    sources = sources_of(profile, None, wiring)
    image = image_of_project(sources, wiring.board)
    slots = list(slots_of(image, sources))
    names = [slot.name for slot in slots]
    assert len(set(names)) == len(names)
    assert {"state.guard_state", "board.reader.widths[4]", "board.wire[62]", "outputs[1]", "wanted[0]"} <= {
        *names
    }
    fields = re.search(r"struct mix_state \{(.*?)\};", sources["mix.h"], re.DOTALL)
    assert fields is not None
    assert sum(name.startswith("state.") for name in names) == fields[1].count(";")
    for slot in slots:
        assert slot.offset + slot.size <= image.symbols[slot.symbol].size
