"""`stickwright replay` and `compare`."""

import csv
from pathlib import Path

import pytest

from tests.cli.conftest import CARRIER, ROUGH, TANK, Run


def test_summary_tells_guard_losses_and_outputs(run: Run) -> None:
    """The summary names guard states, losses and every output."""
    ran = run("replay", CARRIER, ROUGH)
    assert ran.code == 0, ran.err
    assert "resting -> live" in ran.out
    assert "loss at" in ran.out
    for name in ("left_front", "right_rear", "tray_left"):
        assert name in ran.out


def test_engines_give_the_same_summary(run: Run, rough: Path) -> None:
    """The direct core and the generated Python say exactly the same."""
    direct = run("replay", CARRIER, rough, "--engine", "direct", "--json", "-q")
    python = run("replay", CARRIER, rough, "--engine", "python", "--json", "-q")
    assert direct.code == python.code == 0
    assert direct.data == {**python.data, "engine": "direct"}


@pytest.mark.needs_tool("gcc")
def test_a_replay_picks_its_engine_and_says_which(
    run: Run, rough: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Native with a compiler, Python without one, told on stderr with the reason; equal in all else."""
    native = run("replay", CARRIER, rough, "--json")
    monkeypatch.setenv("STICKWRIGHT_CC", "no-such-compiler")
    python = run("replay", CARRIER, rough, "--json")
    assert "note: engine: native\n" in native.err
    assert "note: engine: python, since STICKWRIGHT_CC names 'no-such-compiler'" in python.err
    assert native.data == {**python.data, "engine": "native"}


def test_per_tick_csv_holds_every_tick(run: Run, tmp_path: Path) -> None:
    """-o writes a line a tick with the chosen signals."""
    out = tmp_path / "ticks.csv"
    ran = run("replay", CARRIER, ROUGH, "-o", out, "--signals", "guard.state", "output.*.command")
    assert ran.code == 0
    with out.open(newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0][:2] == ["t_ms", "guard.state"]
    assert len(rows[0]) == 8
    assert len(rows) == 60001


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--engine", "warp"], "no engine"),
        (["--map", "throttle"], "no binding"),
        (["--map", "throttle=nowhere"], "nowhere"),
        (["-o", "/nowhere/ticks.csv"], "cannot be written"),
        (["-o", ROUGH], "is what this command reads"),
        (["-o", "ticks.csv", "--signals", "wheel.*"], "no signal"),
    ],
)
def test_bad_options_are_told(
    run: Run, words: list[object], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every bad option ends with 2, a reason and a remedy."""
    monkeypatch.chdir(tmp_path)
    ran = run("replay", CARRIER, ROUGH, *words)
    assert ran.code == 2
    assert said in ran.err
    assert "remedy:" in ran.err
    assert "Traceback" not in ran.err


def test_a_foreign_log_is_mapped(run: Run, tmp_path: Path) -> None:
    """Columns in percent under other names and a clock in seconds replay after --map."""
    log = tmp_path / "foreign.csv"
    lines = ["Time,Ch A,Ch B,Ch C"]
    lines += [f"{n * 0.02:.2f},0,0,{-100 if n < 25 else 100}" for n in range(100)]
    log.write_text("\n".join(lines) + "\n")
    bound = ["t_ms=Time:s", "throttle=Ch A:percent", "steering=Ch B:percent", "arm=Ch C:percent"]
    words = [word for binding in bound for word in ("--map", binding)]
    ran = run("replay", TANK, log, *words, "--json")
    assert ran.code == 0, ran.err
    assert ran.data["guard"]["seconds"]["live"] > 0


def test_compare_ends_like_a_comparison(run: Run, rough: Path, tmp_path: Path) -> None:
    """Equal robots end with 0, different ones with 1 and the difference, other ticks with 2."""
    assert run("compare", CARRIER, CARRIER, rough).code == 0
    softer = tmp_path / "softer.toml"
    text = CARRIER.read_text()
    assert "slew_up_ms" in text
    softer.write_text(text.replace("slew_up_ms = ", "slew_up_ms = 4"))
    ran = run("compare", CARRIER, softer, rough, "--no-why")
    assert ran.code == 1
    assert "left_front" in ran.out
    other = tmp_path / "other.toml"
    other.write_text(text.replace("tick_ms = 2", "tick_ms = 4"))
    ran = run("compare", CARRIER, other, rough)
    assert ran.code == 2
    assert "tick_ms" in ran.err


def test_a_fault_breaks_the_robot_from_its_moment_on(run: Run, tmp_path: Path) -> None:
    """--fault with its time: dead, stalled and stuck on draw nothing, a stall and a drive's current."""
    log = tmp_path / "still.csv"
    lines = ["t_ms,steering,throttle,arm", *(f"{20 * k},1500,1500,1000" for k in range(100))]
    log.write_text("\n".join(lines), encoding="utf-8")

    def charge(*words: str) -> float:
        ran = run("replay", TANK, log, "--physics", "--json", *words)
        assert ran.code == 0, ran.err
        return float(ran.data["physics"]["charge_ah"])

    assert charge() == charge("--fault", "motor-gone.left") == charge("--fault", "stalled.left") == 0
    late, soon = charge("--fault", "stuck-on.left@1.5"), charge("--fault", "stuck-on.left@0.5")
    assert 0 < 1.5 * late < soon
    assert charge("--fault", "stuck-on.left@0.5", "--fault", "stalled.left@0.5") > 2 * soon


@pytest.mark.parametrize(
    ("given", "said"), [("al-lost", "did you mean 'all-lost'"), ("all-lost@soon", "'soon' is no time")]
)
def test_a_fault_there_is_none_of_is_refused(run: Run, given: str, said: str) -> None:
    """By its name or its time, with the nearest one that there is."""
    ran = run("replay", CARRIER, ROUGH, "--fault", given)
    assert ran.code == 2
    assert said in ran.err
