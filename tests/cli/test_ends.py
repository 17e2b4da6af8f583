"""How commands end: interrupted, stopped, with nobody reading, with nowhere to write."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.conftest import CARRIER, PROFILES, ROUGH, TANK
from tests.lengths import cases

TWO_LOADS = PROFILES / "logs" / "carrier_two_loads.csv"
COMMAND = [sys.executable, "-m", "mixer.cli"]
WITHIN_S = 30.0
"""An interrupted command has ended long before, on a busy machine too; what ran on would take minutes."""
IN_PROC = pytest.mark.skipif(
    not Path("/proc/self/task").exists(), reason="what a process does is seen in /proc"
)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and devices of POSIX")


def proving(words: list[object], number: signal.Signals) -> tuple[int, str, str]:
    """The code and what was printed by a command that got a signal while the solver was at work."""
    process = subprocess.Popen(
        [*COMMAND, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    end = time.monotonic() + WITHIN_S
    while "libz3" not in Path(f"/proc/{process.pid}/maps").read_text():
        assert time.monotonic() < end, "no solver has begun"
        time.sleep(0.05)
    time.sleep(0.5)
    assert process.poll() is None, "it ended before it was interrupted"
    process.send_signal(number)
    out, err = process.communicate(timeout=WITHIN_S)
    return process.returncode, out, err


@IN_PROC
@pytest.mark.parametrize(
    ("name", "code"), cases([("SIGTERM", 143)], [("SIGKILL", -9), ("SIGINT", 130), ("SIGHUP", 129)])
)
def test_a_signal_ends_a_campaign_and_claims_nothing(name: str, code: int) -> None:
    """With several processes at work: the code is the signal's, nothing is printed, no child is left."""
    words = [*COMMAND, "failsafe", str(CARRIER), "--no-proof", "--scenarios", "2000000"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    end = time.monotonic() + WITHIN_S
    while len(workers := children(process.pid)) < min(os.cpu_count() or 1, 2) + 1:
        assert time.monotonic() < end, "no worker has begun"
        time.sleep(0.05)
    process.send_signal(signal.Signals[name])
    out, err = process.communicate(timeout=WITHIN_S)
    assert (process.returncode, out) == (code, "")
    assert not err or name == "SIGKILL", err
    while any(Path(f"/proc/{worker}").exists() for worker in workers):
        assert time.monotonic() < end, "a worker has outlived its command"
        time.sleep(0.05)


def children(pid: int) -> list[str]:
    """What a process has begun: the workers, and the tracker that Python begins with them."""
    return Path(f"/proc/{pid}/task/{pid}/children").read_text().split()


@IN_PROC
@pytest.mark.long
@pytest.mark.needs_tool("z3")
def test_ctrl_c_is_not_swallowed_by_the_solver() -> None:
    """While it proves, for a robot whose proof takes long: 130, and no outcome is printed."""
    code, out, err = proving(["failsafe", CARRIER, "--scenarios", 1], signal.SIGINT)
    assert (code, out, err) == (130, "", "")


@pytest.mark.long
@IN_PROC
@pytest.mark.needs_tool("z3")
def test_no_sheet_comes_of_an_interrupted_proof(tmp_path: Path) -> None:
    """Nor is ctrl-C swallowed by the solver; the page that was there before is there still."""
    page = tmp_path / "sheet.html"
    page.write_text("<title>Data sheet: of yesterday")
    code, out, err = proving(["sheet", CARRIER, "--no-campaign", "-o", page], signal.SIGINT)
    assert (code, out, err) == (130, "", "")
    assert page.read_text() == "<title>Data sheet: of yesterday"
    assert list(tmp_path.iterdir()) == [page]


@pytest.mark.parametrize("number", cases([signal.SIGINT], [signal.SIGKILL, signal.SIGTERM]))
def test_a_stopped_replay_leaves_the_old_table(tmp_path: Path, number: signal.Signals) -> None:
    """Ctrl-C, TERM and kill -9 in the middle of the rows: the old table stands, and nothing half."""
    table = tmp_path / "ticks.csv"
    table.write_bytes(b"t_ms,guard.state\r\nold")
    process = subprocess.Popen(
        [*COMMAND, "replay", CARRIER, TWO_LOADS, "-o", table, "--signals", "*", "--engine", "direct"],
        stdout=subprocess.DEVNULL,
    )
    while len(list(tmp_path.iterdir())) == 1:
        time.sleep(0.01)
        assert process.poll() is None
    process.send_signal(number)
    process.wait(timeout=WITHIN_S)
    assert table.read_bytes().decode() == "t_ms,guard.state\r\nold"
    if number is not signal.SIGKILL:
        assert list(tmp_path.iterdir()) == [table]


@pytest.mark.parametrize("module", ["argparse", "mixer.errors", "mixer.cli.check", "pydantic"])
def test_ctrl_c_while_it_starts_says_nothing(module: str) -> None:
    """At whatever import it comes: ended as by the signal, and no traceback."""
    code = f"""
import os, signal, sys
from mixer.cli.__main__ import entry
class Interrupted:
    def find_spec(self, name, *_):
        if name == {module!r}:
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Interrupted())
sys.argv[1:] = ["check", {str(TANK)!r}]
entry()
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode in (-signal.SIGINT, 128 + signal.SIGINT)
    assert (done.stdout, done.stderr) == ("", "")


def shell(line: str) -> subprocess.CompletedProcess[str]:
    """A line of bash, `stickwright` being this one."""
    spoken = line.replace("stickwright", " ".join(COMMAND))
    return subprocess.run(["bash", "-c", spoken], capture_output=True, text=True, check=False)


def test_a_closed_pipe_is_no_failure(tmp_path: Path) -> None:
    """Whoever reads only the first line has not found a broken rule."""
    slow = tmp_path / "a_fifth_of_its_ticks.toml"
    slow.write_text(TANK.read_text().replace("tick_ms = 2", "tick_ms = 10"))
    done = shell(
        f"stickwright failsafe {slow} --no-proof --scenarios 10 | head -1; echo ${{PIPESTATUS[0]}}"
    )
    assert done.stdout.splitlines()[-1] == "0"
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("words", "place"),
    cases(
        [
            (f"check {TANK}", ">/dev/full"),
            (f"check {TANK} --json", ">&-"),
            ("--help", ">/dev/full"),
            ("--version", ">&-"),
        ],
        [
            (f"check {TANK}", ">&-"),
            (f"check {TANK} --json", ">/dev/full"),
            ("--help", ">&-"),
            ("--version", ">/dev/full"),
        ],
    ),
)
def test_a_stdout_that_takes_nothing_is_told_in_a_line(words: str, place: str) -> None:
    """Full or closed: exit code 2 and one line on stderr."""
    done = shell(f"stickwright {words} {place}")
    assert done.returncode == 2
    assert done.stderr.startswith("error: standard output ")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("profile", "place", "code"),
    cases(
        [(TANK, "2>&-", 0), ("/nowhere.toml", "2>/dev/full", 2)],
        [(TANK, "2>/dev/full", 0), ("/nowhere.toml", "2>&-", 2)],
    ),
)
def test_a_stderr_that_takes_nothing_changes_no_result(profile: Path | str, place: str, code: int) -> None:
    """Notices and errors that nobody can read are no failure of their own."""
    assert shell(f"stickwright check {profile} {place}").returncode == code


def test_a_terminal_without_our_letters_gets_escapes() -> None:
    """In an ASCII locale µ and ± become escapes, not a traceback."""
    done = shell(f"PYTHONIOENCODING=ascii stickwright explain {TANK} --at throttle=1600")
    assert done.returncode == 0
    assert "\\xb5s" in done.stdout


def test_an_output_that_does_not_fit_leaves_the_old_one(tmp_path: Path) -> None:
    """A disk that is full in the middle of the rows: exit code 2, the old table, nothing beside it."""
    table = tmp_path / "ticks.csv"
    table.write_bytes(b"t_ms,guard.state\r\nold")
    done = shell(f"ulimit -f 20; stickwright replay {CARRIER} {ROUGH} -q -o {table}")
    assert done.returncode == 2
    assert "make room" in done.stderr
    assert table.read_bytes().decode() == "t_ms,guard.state\r\nold"
    assert list(tmp_path.iterdir()) == [table]
