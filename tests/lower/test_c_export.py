"""The exported C on this machine: strict compilers, sanitizers, vectors, the same letters every time."""

import csv
import random
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from mixer.core.plan import Guard
from mixer.errors import OptionError
from mixer.lower.c.export import export_of
from tests.boards.avr import STRICT
from tests.lengths import cases
from tests.lower.c_exports import (
    ROBOTS,
    SANITIZERS,
    compile_check,
    exported,
    plan_of_robot,
    random_rows,
    run_check,
    write_export,
    write_mix,
)
from tests.plans import plain_plan
from tests.strategies import FULL_SIZE, Size, random_plan

GOLDEN = Path(__file__).parent / "golden"
REPOSITORY = Path(__file__).parents[2]
compilers = pytest.mark.parametrize(
    "compiler",
    [
        pytest.param("gcc", marks=pytest.mark.needs_tool("gcc")),
        pytest.param("clang", marks=pytest.mark.needs_tool("clang")),
    ],
)


@compilers
@pytest.mark.parametrize(
    "robot", cases(["tank_pair", "sample_carrier"], sorted(set(ROBOTS) - {"tank_pair", "sample_carrier"}))
)
def test_every_robot_compiles_strictly_and_passes_its_own_vectors(
    robot: str, compiler: str, tmp_path: Path
) -> None:
    """-std=c99 with every warning an error, then no number differs from the core's."""
    write_export(tmp_path, plan_of_robot(robot))
    built = compile_check(tmp_path, compiler)
    assert built.returncode == 0, built.stderr
    checked = run_check(tmp_path)
    assert checked.returncode == 0, checked.stdout
    assert checked.stdout.endswith("ticks, 0 numbers differ\n")


@compilers
@pytest.mark.parametrize("seed", cases((502, 507), range(495, 520)))
def test_random_robots_compile_strictly(seed: int, compiler: str, tmp_path: Path) -> None:
    """Whatever a robot is made of, no spelling of it is warned of: parentheses, conversions, signs."""
    plan = random_plan(random.Random(seed), Size(sticks=3, switches=2, outputs=4, actuators=1, ticks=8))
    write_mix(tmp_path, plan)
    command = [compiler, "-O2", *STRICT, "-c", "mix.c", "-o", "mix.o"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=100)
    assert done.returncode == 0, done.stderr


@compilers
def test_the_header_stands_alone(compiler: str, tmp_path: Path) -> None:
    """mix.h compiles as the only thing included, twice, so that it needs nothing before it."""
    write_mix(tmp_path, plan_of_robot("tank_pair"))
    (tmp_path / "alone.c").write_text('#include "mix.h"\n#include "mix.h"\nextern int x;\n')
    done = subprocess.run([compiler, *STRICT, "-fsyntax-only", "alone.c"], cwd=tmp_path, check=False)
    assert done.returncode == 0
    assert (tmp_path / "mix.c").read_text().split("*/", 1)[1].lstrip().startswith('#include "mix.h"')


@pytest.mark.no_cover
@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize("seed", cases((2,), (0, 1, 3, 4, 5)))
def test_random_plans_give_the_same_bits_under_sanitizers(seed: int, tmp_path: Path) -> None:
    """Random robots and random, partly hostile inputs: no undefined behaviour, no differing number."""
    plan = random_plan(random.Random(seed), FULL_SIZE if seed == 0 else None)
    write_export(tmp_path, plan, random_rows(plan, seed, 800))
    built = compile_check(tmp_path, "gcc", *SANITIZERS)
    assert built.returncode == 0, built.stderr
    checked = run_check(tmp_path)
    assert checked.returncode == 0, checked.stdout + checked.stderr


@pytest.mark.needs_tool("gcc")
def test_the_runner_finds_a_changed_number_and_names_its_signal(tmp_path: Path) -> None:
    """One constant of the mix changed by one: check ends with 1 and says which output differs where."""
    write_export(tmp_path, plan_of_robot("tank_pair"))
    source = tmp_path / "mix.c"
    text = source.read_text(encoding="utf-8")
    right = "output_left_wire = output_wire(state->output_left_command)"
    assert right in text
    source.write_text(text.replace(right, f"{right} + 1"))
    assert compile_check(tmp_path, "gcc").returncode == 0
    checked = run_check(tmp_path)
    assert checked.returncode == 1
    assert "output.left.wire is 1501, the vectors say 1500" in checked.stdout
    assert "output.right.wire" not in checked.stdout


@pytest.mark.needs_tool("gcc")
def test_the_runner_refuses_torn_and_missing_vectors(tmp_path: Path) -> None:
    """A cut line and a missing file end with 2 and a word about what is wrong; no vectors at all fail."""
    write_export(tmp_path, plan_of_robot("tank_pair"))
    assert compile_check(tmp_path, "gcc").returncode == 0
    vectors = tmp_path / "vectors.csv"
    whole = vectors.read_text()
    vectors.write_text(whole[: len(whole) // 2].rsplit(",", 1)[0] + "\n")
    torn = run_check(tmp_path)
    assert torn.returncode == 2
    assert "does not have" in torn.stdout
    vectors.write_text(whole.split("\n", 1)[0] + "\n")
    assert run_check(tmp_path).returncode == 1
    vectors.unlink()
    missing = run_check(tmp_path)
    assert missing.returncode == 2
    assert "cannot be read" in missing.stdout


@pytest.mark.long
def test_the_files_depend_on_the_plan_alone(tmp_path: Path) -> None:
    """Other hash seeds, another working directory, another day: not a byte differs."""
    program = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]); from pathlib import Path;"
        "from mixer.profile.profile import load_profile; from mixer.lower.c.export import export_files;"
        "from mixer.lower.c.program import header_text, source_text;"
        "large, small = (load_profile(Path(path)).plan() for path in sys.argv[2:]);"
        "text = header_text(large, 'x') + source_text(large, 'x') + repr(export_files(small, 'x'));"
        "print(hashlib.sha256(text.encode()).hexdigest())"
    )
    robots = [str(ROBOTS[name]) for name in ("sample_carrier", "tank_pair")]
    results = set()
    for seed, folder in (("0", REPOSITORY), ("4711", tmp_path)):
        done = subprocess.run(
            [sys.executable, "-c", program, str(REPOSITORY), *robots],
            env={"PYTHONHASHSEED": seed, "PATH": ""},
            cwd=folder,
            capture_output=True,
            text=True,
            check=True,
            timeout=100,
        )
        results.add(done.stdout)
    assert len(results) == 1


def test_the_small_robot_is_written_as_the_golden_files_have_it() -> None:
    """A change of the emitted text is seen and meant: python -m tests.lower.golden writes it anew."""
    files = exported(plan_of_robot("tank_pair"))
    for name in ("mix.h", "mix.c", "README.md"):
        assert files[name] == (GOLDEN / f"tank_pair_{name}").read_text(encoding="utf-8"), name


@pytest.mark.no_cover
@pytest.mark.parametrize("robot", cases(["tank_pair"], sorted(set(ROBOTS) - {"tank_pair"})))
def test_vectors_visit_the_guard_and_move_every_output_both_ways(robot: str) -> None:
    """Searching, resting, live and stopped are met, and each wire leaves its rest to both sides."""
    plan = plan_of_robot(robot)
    names, *seen = csv.reader(exported(plan)["vectors.csv"].splitlines())
    columns = {name: {int(row[at]) for row in seen} for at, name in enumerate(names)}
    assert {Guard.SEARCHING, Guard.RESTING, Guard.LIVE, Guard.STOPPED} <= columns["guard.state"]
    for output in plan.outputs:
        sent = columns[f"output.{output.name}.wire"]
        assert min(sent) < output.rest < max(sent), output.name


@pytest.mark.parametrize("trim", [-4000, 1638, 6000])
def test_vectors_are_live_for_any_robot_that_can_be(trim: int) -> None:
    """A trim moves the pulse of a stick at rest; the vectors go there and drive all the same."""
    plan = plan_of_robot("tank_pair")
    trimmed = replace(plan, sticks=tuple(replace(stick, trim=trim) for stick in plan.sticks))
    vectors = export_of(trimmed, "x").vectors
    assert vectors.live_ticks > vectors.ticks / 4
    assert set(vectors.moved) == {output.name for output in plan.outputs}


def test_a_robot_that_cannot_go_live_is_not_exported() -> None:
    """No pulse of a stick that ends before neutral arms it: vectors would pass on a dead board."""
    plan = plan_of_robot("tank_pair")
    stick = plan.sticks[0]
    high = replace(plan.channels[stick.channel], good_low_us=stick.centre_us + 200)
    stuck = replace(
        plan, channels=(*plan.channels[: stick.channel], high, *plan.channels[stick.channel + 1 :])
    )
    with pytest.raises(OptionError, match="cannot go live"):
        export_of(stuck, "x")


def test_no_banned_thing_is_in_the_c() -> None:
    """One loop of a known length at most, no jump, heap or float in mix.c; nothing calls itself."""
    for robot in ROBOTS:
        text = exported(plan_of_robot(robot))["mix.c"]
        code = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
        words = re.findall(r"[A-Za-z_]\w*", code)
        assert not {*words} & {"while", "do", "goto", "switch", "malloc", "float", "double", "long"}
        loops = re.findall(r"for \(([^)]*)\)", code)
        assert words.count("for") == len(loops)
        assert set(loops) <= {"uint8_t step = 0u; step < 14u; step++"}


@compilers
def test_hostile_names_do_no_harm(compiler: str, tmp_path: Path) -> None:
    """Names that are C keywords, end comments, hold quotes or fall together still compile and pass."""
    plan = plain_plan(((16384, 0), (0, 16384)))
    first, second = plan.outputs
    outputs = (replace(first, name='int */ "x" \\ ??/'), replace(second, name="int-x"))
    plan = replace(plan, name="*/ #error ??/\nµ", outputs=outputs)
    write_export(tmp_path, plan)
    built = compile_check(tmp_path, compiler)
    assert built.returncode == 0, built.stderr
    assert run_check(tmp_path).returncode == 0, run_check(tmp_path).stdout
