"""The export's own check.c on an emulated Cortex-M3, reading vectors.csv through semihosting.

QEMU's board mps2-an385; not cycle-accurate, so it tells about bits only.
"""

import subprocess
from pathlib import Path

from mixer.lower.run.toolchain import Tool, find
from tests.boards.avr import STRICT

ARM_COMPILER = Tool(
    "the ARM compiler",
    ("arm-none-eabi-gcc",),
    "STICKWRIGHT_ARM_CC",
    "install gcc-arm-none-eabi and libnewlib-arm-none-eabi (apt-get)",
)
ARM_EMULATOR = Tool(
    "the ARM emulator", ("qemu-system-arm",), "STICKWRIGHT_QEMU_ARM", "install qemu-system-arm (apt-get)"
)
HERE = Path(__file__).parent


def check_on_cortex_m(folder: Path, optimise: str = "-O2") -> tuple[int, str]:
    """Exit code and words of check.c on the board; the folder holds a whole export."""
    elf = folder / "check.elf"
    compiler = [*find(ARM_COMPILER), "-mcpu=cortex-m3", "-mthumb", optimise, *STRICT, f"-I{folder}"]
    subprocess.run(
        [*compiler, "-c", str(folder / "mix.c"), "-o", str(folder / "mix.o")], check=True, timeout=60
    )
    linked = [
        "--specs=rdimon.specs",
        "-nostartfiles",
        "-T",
        str(HERE / "cortex_m.ld"),
        str(HERE / "start.c"),
    ]
    sources = [str(folder / "check.c"), str(folder / "mix.o")]
    loose = [*find(ARM_COMPILER), "-mcpu=cortex-m3", "-mthumb", optimise, "-std=c99", f"-I{folder}"]
    subprocess.run([*loose, *linked, *sources, "-o", str(elf)], check=True, timeout=60)
    done = subprocess.run(
        [
            *find(ARM_EMULATOR),
            *("-M", "mps2-an385", "-nographic", "-monitor", "none", "-serial", "none"),
            *("-semihosting-config", "enable=on,target=native", "-kernel", str(elf)),
        ],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr
