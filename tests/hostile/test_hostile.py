"""Files made to break something: each ends with 2, says where and what to do, in bounded time."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from mixer.cli.main import main
from tests.cli.conftest import CARRIER, ROUGH, TANK

COMMAND = [sys.executable, "-m", "mixer.cli"]
BASE = TANK.read_text(encoding="utf-8")
HEADER = "t_ms,steering,throttle,arm\r\n"
GOOD = [f"{number * 20},1500,1500,1000\r\n" for number in range(5)]
PATIENCE_S = 20
"""What has no end is caught by this, on however slow a machine."""


def deep(levels: int, opening: str = "[", closing: str = "]") -> str:
    """A value inside a value inside a value ..."""
    return opening * levels + closing * levels


PROFILES = {
    "nested lists": BASE + f"\n[hostile]\nx = {deep(900)}\n",
    "nested tables": BASE + f"\n[hostile]\nx = {deep(900, '{a=', '}').replace('{a=}', '{}')}\n",
    "nested keys": BASE + f"\n[{'.'.join('a' * 900)}]\n",
    "a key of many parts": f"{'.'.join('a' * 20_000)} = 1\n" + BASE,
    "15,000 loadouts": BASE + "".join(f"\n[loadout.l{number}]" for number in range(15_000)),
    "60,000 unknown keys": BASE + "\n[hostile]\n" + "".join(f"k{number}=1\n" for number in range(60_000)),
    "20,000 unknown tables": BASE + "".join(f"\n[k{number}]" for number in range(20_000)),
    "a long unknown key": BASE + f"\n[{'k' * 500_000}]\n",
    "a number of 5,000 digits": BASE.replace("[robot]", f"[robot]\nsize = {'9' * 5000}", 1),
    "escapes": BASE + '\n["\\u001b]52;c;AAAA\\u0007"]\n',
}


@pytest.mark.parametrize("text", PROFILES.values(), ids=PROFILES.keys())
def test_a_hostile_profile_is_refused(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At most twenty complaints and a count, with file and remedy."""
    path = tmp_path / "hostile.toml"
    path.write_text(text, encoding="utf-8")
    assert main(["check", str(path)]) == 2
    err = capsys.readouterr().err
    assert err.startswith(f"error: {path}")
    assert 1 <= err.count("remedy: ") <= 20
    assert len(err) < 100_000
    assert "\x1b" not in err
    if "[k59999]" in text:
        assert "... and 59980 more" in err


LOGS = {
    "a cell of 4,301 digits": HEADER + f"0,{'9' * 4301},1500,1000\r\n",
    "a time of 4,301 digits": HEADER + f"{'9' * 4301},1500,1500,1000\r\n",
    "a huge power": HEADER + "0,1e999999,1500,1000\r\n",
    "a huge power as time": HEADER + "1e999999,1500,1500,1000\r\n",
    "a tiny power": HEADER + "0,1e-999999,1500,1000\r\n",
    "a signalling nan": HEADER + "0,sNaN,1500,1000\r\n",
    "a signalling nan as time": HEADER + "sNaN,1500,1500,1000\r\n",
    "infinity": HEADER + "0,-Infinity,1500,1000\r\n",
    "100,000 columns": ",".join(["t_ms", *(f"c{number}" for number in range(100_000))]) + "\r\n0\r\n",
    "100,000 equal columns": ",".join(["t_ms", *["c"] * 100_000]) + "\r\n0\r\n",
    "a long line": HEADER + "".join(GOOD) + "1" * 2_000_000,
    "a long quoted cell": HEADER + '0,"' + "\r\n" * 200_000,
    "only zero bytes": "\0" * 100_000,
    "zero bytes": HEADER + "".join(GOOD) + "\0" * 2_000_000,
    "days between few rows": HEADER
    + "".join(f"{number * 599_000},1500,1500,1000\r\n" for number in range(99)),
    "a long column name": f"t_ms,{'c' * 900_000}\r\n0,1500\r\n",
    "everything wrong": HEADER + "x,y,z,w\r\n" * 100_000,
}


@pytest.mark.parametrize("text", LOGS.values(), ids=LOGS.keys())
@pytest.mark.parametrize("words", [["replay", str(TANK)], ["calibrate"]], ids=["replay", "calibrate"])
def test_a_hostile_log_is_refused(
    text: str, words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused with file and remedy, or (by who asks for less) read; never a traceback, never a flood."""
    path = tmp_path / "hostile.csv"
    path.write_text(text, encoding="utf-8", newline="")
    code = main([*words, str(path)])
    err = capsys.readouterr().err
    if code == 0:
        assert words == ["calibrate"], "whoever takes only what looks like pulses may do without the rest"
        return
    assert code == 2
    assert f"error: {path}" in err
    assert 1 <= err.count("remedy: ") <= 20
    assert len(err) < 100_000


STATES = {
    "null": "null",
    "nested": deep(100_000),
    "nested objects": '{"a":' * 900 + "1" + "}" * 900,
    "no such guard": '{"guard.state": 99}',
    "a negative age": '{"channel.arm.age": -1}',
    "a huge number": '{"guard.state": 1e400}',
    "5,000 digits": '{"guard.state": ' + "9" * 5000 + "}",
    "a flag for a number": '{"guard.state": true}',
    "no number": '{"guard.state": NaN}',
    "unknown slots": json.dumps({f"k{number}": 1 for number in range(50_000)}),
    "not text": "\ud800",
    "too long": '{"guard.state": 2' + " " * 1_000_000 + "}",
    "one slot twice": '{"guard.state": 2, "guard.state": 0}',
}


@pytest.mark.parametrize("text", STATES.values(), ids=STATES.keys())
def test_a_hostile_start_state_is_refused(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A state that no run of this robot can reach is not begun from."""
    path = tmp_path / "drive.csv"
    path.write_text(HEADER + "".join(GOOD), newline="")
    Path(f"{path}.start.json").write_bytes(text.encode(errors="surrogatepass"))
    assert main(["replay", str(TANK), str(path)]) == 2
    err = capsys.readouterr().err
    assert f"error: {path}.start.json" in err
    assert "\\n" not in err, "one error inside another"
    assert 1 <= err.count("remedy: ") <= 20


UNSURE = """{"format": "stickwright rehearsal 1", "robot": "tank pair", "receiver": "pulses stop",
"complete": "yes", "steps": [{"step": "ready", "outcome": "passed"}]}"""


@pytest.mark.parametrize("text", [*STATES.values(), '{"format": "stickwright rehearsal 1"}', "[]", UNSURE])
def test_a_hostile_rehearsal_is_refused(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sheet is made of rehearsals only."""
    path = tmp_path / "rehearsal.json"
    path.write_bytes(text.encode(errors="surrogatepass"))
    words = ["sheet", str(TANK), "-o", str(tmp_path / "s.html"), "--rehearsal", str(path), "--no-proof"]
    assert main([*words, "--no-campaign"]) == 2
    assert "remedy: " in capsys.readouterr().err
    assert not (tmp_path / "s.html").exists()


def test_a_bad_loadout_stops_only_who_asks_for_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The base robot and the good loadouts work; the bad one, and `check`, name what is wrong."""
    path = tmp_path / "carrier.toml"
    path.write_text(CARRIER.read_text() + '\n[loadout.wrong]\nremove = ["output.nothing"]\n')
    assert main(["explain", str(path)]) == 0
    assert main(["check", str(path), "--loadout", "bare"]) == 0
    assert main(["replay", str(path), str(ROUGH)]) == 0
    capsys.readouterr()
    for words in (["explain", str(path), "--loadout", "wrong"], ["check", str(path)]):
        assert main(words) == 2
        assert "no 'output.nothing' to remove" in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of POSIX")
def test_a_pipe_is_read_like_a_file(tmp_path: Path) -> None:
    """From stdin, from a fifo, by commands that read it twice: the same as from the file."""
    log = tmp_path / "short.csv"
    log.write_bytes(b"".join(ROUGH.read_bytes().splitlines(keepends=True)[:300]))
    from_file = subprocess.run(
        [*COMMAND, "replay", str(CARRIER), str(log), "-q"], capture_output=True, text=True, check=True
    )
    fifo = tmp_path / "drive"
    os.mkfifo(fifo)
    for line in (
        f"cat {log} | {' '.join(COMMAND)} replay {CARRIER} /dev/stdin -q",
        f"cat {log} > {fifo} & {' '.join(COMMAND)} replay {CARRIER} {fifo} -q",
        f"cat {CARRIER} | {' '.join(COMMAND)} replay /dev/stdin {log} -q",
    ):
        done = subprocess.run(["bash", "-c", line], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout, done.stderr) == (0, from_file.stdout, ""), line


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="devices of POSIX")
@pytest.mark.parametrize(
    "words",
    [
        ["check", "/dev/zero"],
        ["check", "/dev/urandom"],
        ["replay", str(TANK), "/dev/zero"],
        ["calibrate", "/dev/zero"],
        ["calibrate", "/dev/null"],
        ["replay", str(TANK), "/"],
    ],
    ids=" ".join,
)
def test_what_has_no_end_ends(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Devices and folders are refused, at once."""
    begin = time.monotonic()
    assert main(words) == 2
    assert time.monotonic() - begin < PATIENCE_S
    assert "remedy: " in capsys.readouterr().err
