"""The exported C on boards: bit for bit the core's, where `int` has 16 bits and where it has 32."""

import random
from pathlib import Path

import pytest

from mixer.core.plan import Plan
from mixer.lower.c.vectors import vector_trace
from tests.boards.avr import Row, build_avr, run_avr
from tests.boards.cortex_m import check_on_cortex_m
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, core_rows, plan_of_robot, random_rows, write_export, write_mix
from tests.strategies import Size, random_plan

SMALL = Size(sticks=4, switches=3, outputs=5, actuators=2, ticks=8)
on_avr = pytest.mark.needs_tool("avr-gcc", "simavr")
on_cortex_m = pytest.mark.needs_tool("arm-none-eabi-gcc", "qemu-system-arm")


def differing(plan: Plan, folder: Path, rows: list[tuple[int, ...]], optimise: str = "-O2") -> list[int]:
    """The ticks at which the AVR's outputs or state are not the core's."""
    seen = run_avr(build_avr(folder, optimise), rows)
    wanted = core_rows(plan, rows)
    assert len(seen) == len(wanted) > 0
    pairs = enumerate(zip(seen, wanted, strict=True))
    return [number for number, (got, core) in pairs if Row(got.outputs, got.state, 0) != core]


FEW = ("sample_carrier", "tank_pair")
robots = pytest.mark.parametrize("robot", cases(FEW, sorted(set(ROBOTS) - set(FEW))))


@on_avr
@robots
def test_every_robot_gives_the_same_bits_on_the_avr(robot: str, tmp_path: Path) -> None:
    """2000 ticks of the robot's own vectors: every wire, the guard and every slot of the state agree."""
    plan = plan_of_robot(robot)
    write_mix(tmp_path, plan)
    assert differing(plan, tmp_path, vector_trace(plan)[:2000]) == []


@on_avr
@pytest.mark.parametrize("seed", cases(range(2), range(2, 4)))
def test_random_plans_give_the_same_bits_on_the_avr(seed: int, tmp_path: Path) -> None:
    """Random robots, plausible and hostile inputs, at both optimisation levels, with tables and without."""
    plan = random_plan(random.Random(100 + seed), SMALL)
    write_mix(tmp_path, plan, tables=seed % 4 < 2)
    rows = random_rows(plan, seed, 600)
    assert differing(plan, tmp_path, rows, "-Os" if seed % 2 else "-O2") == []


@on_avr
def test_a_missing_cast_is_found_on_the_avr(tmp_path: Path) -> None:
    """The widening cast of the 16-bit product taken out: the AVR differs, so these runs can fail.

    On this machine the same change makes no difference, which is why the AVR is asked at all.
    """
    plan = plan_of_robot("tank_pair")
    write_mix(tmp_path, plan, tables=False)
    source = tmp_path / "mix.c"
    text = source.read_text(encoding="utf-8")
    narrow = text.replace("(uint32_t)(uint16_t)x * four_times", "(uint32_t)((uint16_t)x * four_times)")
    assert narrow != text
    source.write_text(narrow, encoding="utf-8")
    rows = vector_trace(plan)[:1500]
    assert len(differing(plan, tmp_path, rows)) > len(rows) // 4


@on_cortex_m
@robots
def test_every_robot_passes_its_vectors_on_a_cortex_m(robot: str, tmp_path: Path) -> None:
    """The export's own check.c, run on an emulated Cortex-M3, finds no differing number."""
    code, said = check_on_cortex_m(write_export(tmp_path, plan_of_robot(robot)))
    assert code == 0, said
    assert said.endswith("ticks, 0 numbers differ\n")


@on_cortex_m
@pytest.mark.parametrize("seed", cases([0], [1]))
def test_random_plans_give_the_same_bits_on_a_cortex_m(seed: int, tmp_path: Path) -> None:
    """Random robots and hostile inputs as vectors of check.c."""
    plan = random_plan(random.Random(200 + seed), SMALL)
    code, said = check_on_cortex_m(write_export(tmp_path, plan, random_rows(plan, seed, 800)))
    assert code == 0, said


@on_cortex_m
def test_a_wrong_number_fails_on_the_cortex_m(tmp_path: Path) -> None:
    """The exit code comes through the emulator: vectors with one changed number end with 1."""
    folder = write_export(tmp_path, plan_of_robot("tank_pair"))
    vectors = folder / "vectors.csv"
    vectors.write_text(vectors.read_text().replace(",1500,1500,1\n", ",1500,1499,1\n", 1))
    code, said = check_on_cortex_m(folder)
    assert code == 1
    assert "output.right.wire is 1500, the vectors say 1499" in said
