"""What tests of the exported C share: writing an export, compiling and running it, the core beside it."""

import os
import random
import subprocess
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.lower.c.export import export_files
from mixer.lower.c.program import header_text, interface_of, source_text
from mixer.lower.c.vectors import vectors_of
from mixer.lower.graph.trace import trace
from mixer.profile.profile import load_profile
from tests.boards.avr import STRICT, Row
from tests.strategies import adversarial, driving, run_core

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
ROBOTS = {path.stem: path for path in PROFILES}
SANITIZERS = ("-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")


def plan_of_robot(name: str) -> Plan:
    """The base robot of an example profile."""
    return load_profile(ROBOTS[name]).plan()


def random_rows(plan: Plan, seed: int, ticks: int) -> list[tuple[int, ...]]:
    """Plausible driving, then inputs as nobody wishes them, about half of each."""
    rng = random.Random(seed)
    return driving(rng, plan, ticks // 2) + adversarial(rng, plan, ticks // 2)


@lru_cache(maxsize=16)
def exported(plan: Plan) -> Mapping[str, str]:
    """All files of a plan, made once for every test that looks at them."""
    return export_files(plan, "0123456789ab")


def write_mix(folder: Path, plan: Plan, fingerprint: str = "0123456789ab", *, tables: bool = True) -> Path:
    """The C of a plan alone, for tests with inputs of their own: the core runs no vectors for it."""
    for name, text in (
        ("mix.h", header_text(plan, fingerprint)),
        ("mix.c", source_text(plan, fingerprint, tables=tables)),
    ):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def write_export(folder: Path, plan: Plan, rows: Sequence[Sequence[int]] | None = None) -> Path:
    """An export in a folder, with vectors of its own or from the given rows."""
    files = dict(exported(plan))
    if rows is not None:
        signals = [field.name for field in interface_of(trace(plan)).outputs]
        files["vectors.csv"] = vectors_of(plan, signals, rows).text
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def compile_check(folder: Path, compiler: str, *flags: str) -> subprocess.CompletedProcess[str]:
    """check.c and mix.c linked to `check`, every warning an error."""
    command = [compiler, "-O2", *STRICT, *flags, "mix.c", "check.c", "-o", "check"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=100)


def run_check(folder: Path) -> subprocess.CompletedProcess[str]:
    """What `check` says about vectors.csv."""
    # Leak detection needs ptrace, which containers forbid; the mix has no heap to leak.
    environment = {**os.environ, "ASAN_OPTIONS": "detect_leaks=0"}
    command = [str(folder / "check")]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=100, env=environment
    )


def core_rows(plan: Plan, rows: Sequence[tuple[int, ...]]) -> list[Row]:
    """What the core gives for the rows, in the order of mix.h's structs; cycles are 0."""
    layout = layout_of(plan)
    shape = interface_of(trace(plan))
    outputs = [layout.signals.index(field.name) for field in shape.outputs]
    state = [layout.state.index(field.name) for field in shape.state]
    return [
        Row(tuple(after.signals[at] for at in outputs), tuple(after.state[at] for at in state), 0)
        for after in run_core(plan, list(rows))
    ]
