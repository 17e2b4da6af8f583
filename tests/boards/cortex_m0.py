"""The Cortex-M0+ of cortex_m0.c, for what tests call: cycles, stack and every step.

It is an account of its own, apart from `mixer`'s; what it computes is compared with the core, bit for bit.
"""

import ctypes as c
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

from mixer.lower.run.toolchain import C_COMPILER, find
from tests.boards.avr import STRICT, Row, formats_of
from tests.boards.cortex_m import ARM_COMPILER
from tests.boards.elf import read_loaded

RAM, RAM_BYTES = 0x20000000, 0x42000
MOST_STEPS = 1 << 16
"""Of one call that are written down."""
FLAGS = ("-mcpu=cortex-m0plus", "-mthumb", "-nostartfiles", "-Wl,-Ttext=0x20000000", "-Wl,-emain", *STRICT)
_MAIN = """
#include "mix.h"
struct mix_inputs now;
struct mix_state state;
struct mix_outputs out;
int main(void)
{
    mix_start(&state);
    for (;;) {
        mix_tick(&now, &state, &out);
    }
}
"""


def build_m0(folder: Path, optimise: str = "-O2") -> Path:
    """The folder's mix.c and a bare main, linked to run from the RP2040's SRAM."""
    main, elf = folder / "m0_main.c", folder / f"m0{optimise}.elf"
    main.write_text(_MAIN, encoding="utf-8")
    command = [*find(ARM_COMPILER), *FLAGS, optimise, f"-I{folder}", str(main), str(folder / "mix.c")]
    subprocess.run([*command, "-o", str(elf)], check=True, timeout=60)
    return elf


def bytes_and_ram(folder: Path, optimise: str = "-O2") -> tuple[int, int]:
    """Bytes that mix.c adds to a program that does nothing, and those of RAM in the three structs."""
    whole = read_loaded(build_m0(folder, optimise))
    empty, bare = folder / "m0_empty.c", folder / "m0_empty.elf"
    empty.write_text("int main(void) { for (;;) { } }\n", encoding="utf-8")
    subprocess.run(
        [*find(ARM_COMPILER), *FLAGS, optimise, str(empty), "-o", str(bare)], check=True, timeout=60
    )
    sizes = [sum(len(data) for _, data in loaded.parts) for loaded in (whole, read_loaded(bare))]
    return sizes[0] - sizes[1], sum(whole.symbols[name].size for name in ("now", "state", "out"))


class _State(c.Structure):
    _fields_ = (
        ("ram", c.c_void_p),
        ("r", c.c_uint32 * 16),
        ("flags", c.c_uint32 * 4),
        ("lowest", c.c_uint32),
        ("bad", c.c_uint32),
        ("cycles", c.c_uint64),
    )


class RawStep(c.Structure):
    """One instruction that ran, the registers before it."""

    _fields_ = (("at", c.c_uint32), ("to", c.c_uint32), ("cycles", c.c_uint32), ("r", c.c_uint32 * 16))


@cache
def _library() -> c.CDLL:
    target = Path(tempfile.mkdtemp(prefix="stickwright-test-")) / "cortex_m0.so"
    source = Path(__file__).with_name("cortex_m0.c")
    command = [*find(C_COMPILER), "-O2", "-shared", "-fPIC", "-Wall", "-Wextra", "-Werror", str(source)]
    subprocess.run([*command, "-o", str(target)], check=True, timeout=60)
    return c.CDLL(str(target))


class Core:
    """Registers, flags and SRAM, which holds rubbish where the program puts nothing."""

    def __init__(self, elf: Path) -> None:
        loaded = read_loaded(elf)
        self._symbols = loaded.symbols
        self.ram = bytearray(b"\xa5" * RAM_BYTES)
        for address, data in loaded.parts:
            self.ram[address - RAM : address - RAM + len(data)] = data
        self._ram = (c.c_uint8 * RAM_BYTES).from_buffer(self.ram)
        self._state = _State(ram=c.addressof(self._ram))
        self._steps = (RawStep * MOST_STEPS)()

    def call(self, routine: str, *arguments: str, steps: bool = False) -> list[RawStep]:
        """Call a routine with addresses of variables; its steps where they are asked for."""
        state = self._state
        state.r = (c.c_uint32 * 16)(*(self._symbols[name].address for name in arguments))
        state.r[15] = self._symbols[routine].address & ~1
        state.cycles = 0
        count = _library().m0_call(c.byref(state), self._steps, MOST_STEPS if steps else 0)
        assert not state.bad, f"{routine} does what is not known here at {state.bad:#x}"
        return [RawStep.from_buffer_copy(self._steps[at]) for at in range(count)]

    @property
    def cycles(self) -> int:
        """Of the last call."""
        return int(self._state.cycles)

    @property
    def stack(self) -> int:
        """Bytes of the last call."""
        return RAM + RAM_BYTES - int(self._state.lowest)

    def place(self, name: str) -> int:
        """Where a variable lies in `ram`."""
        return self._symbols[name].address - RAM


class Ticks:
    """An exported mix on the core, tick by tick."""

    def __init__(self, elf: Path) -> None:
        self._core = Core(elf)
        header = (elf.parent / "mix.h").read_text(encoding="utf-8")
        # Members lie as the procedure call standard has them: each at a multiple of its size, as here.
        self._shapes = {name: struct.Struct("@" + kinds[1:]) for name, kinds in formats_of(header).items()}
        self._core.call("mix_start", "state")

    def tick(self, row: Sequence[int], *, steps: bool = False) -> tuple[Row, list[RawStep]]:
        """What it left behind, and its steps where they are asked for."""
        core, shapes = self._core, self._shapes
        shapes["mix_inputs"].pack_into(core.ram, core.place("now"), *row)
        ran = core.call("mix_tick", "now", "state", "out", steps=steps)
        outputs = shapes["mix_outputs"].unpack_from(core.ram, core.place("out"))
        state = shapes["mix_state"].unpack_from(core.ram, core.place("state"))
        return Row(outputs, state, core.cycles, core.stack), ran


def run_m0(elf: Path, rows: Iterable[Sequence[int]]) -> list[Row]:
    """Every tick's outputs, state, cycles and stack."""
    ticks = Ticks(elf)
    return [ticks.tick(row)[0] for row in rows]
