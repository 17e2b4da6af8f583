"""Twenty thousand spoilt files: none gives a traceback, takes more than 2 s or more than 300 MB."""

import json
import random
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from mixer.board.frames import Decoder, Frame, encode
from mixer.errors import InternalError, LogError, OptionError, ProfileError
from mixer.link.rehearse.report import read_rehearsal
from mixer.profile.profile import load_profile, parse_profile
from mixer.runs.log.read import open_log
from mixer.runs.play.start_state import SUFFIX, read_start_state
from mixer.text import visible

ROOT = Path(__file__).parents[2]
TANK = ROOT / "profiles" / "tank_pair.toml"
PROFILES = [path.read_bytes() for path in sorted((ROOT / "profiles").glob("*.toml"))]
ROWS = (b"%d,1500,%d,1000,7.4\r\n" % (20 * n, 1500 + n) for n in range(40))
LOG = b"".join([b"t_ms,steering,throttle,arm,volts\r\n", *ROWS])
STATE = json.dumps({"guard.state": 1, "channel.arm.age": 3}).encode()
STEP = {"step": "ready", "outcome": "passed", "said": "fine", "facts": {}}
REHEARSAL = json.dumps(
    {
        "format": "stickwright rehearsal 1",
        "robot": "tank pair",
        "receiver": "pulses stop",
        "passed": True,
        "complete": True,
        "steps": [STEP],
    }
).encode()
SPICE = [
    *(b"\x1b]52;c;AAAA\x07", "\u202e\u2066\ud7ff".encode(), b"\0", b"\xff\xfe", "µ漢🤖".encode()),
    *(b"9" * 4400, b"1e999999", b"sNaN", b"-inf", b"0x7fffffffffffffff", b"1979-05-27T07:32:00Z"),
    *(b'"', b"'''", b"[" * 600, b"{" * 600, b"a." * 90, b"\r", b"\n\n", b"#", b"=", b",", b";"),
    *(b"null", b"true", b"\\u0000"),
]
MOST_S, MOST_MB = 2.0, 300
EACH = 5_000


def spoilt(text: bytes, dice: random.Random) -> bytes:
    """One to six edits: bytes flipped, stretches cut, doubled or moved, spice strewn in."""
    data = bytearray(text)
    for _ in range(dice.randint(1, 6)):
        at, to = sorted((dice.randint(0, len(data)), dice.randint(0, len(data))))
        to = min(to, at + dice.choice((1, 8, 80, 4000)))
        match dice.randrange(6):
            case 0:
                data[at:at] = dice.choice(SPICE)
            case 1:
                data[at:to] = dice.choice(SPICE)
            case 2:
                del data[at:to]
            case 3:
                data[at:at] = data[at:to] * dice.randint(1, 9)
            case 4 if data:
                data[dice.randrange(len(data))] = dice.randrange(256)
            case _:
                lines = bytes(data).splitlines(keepends=True)
                dice.shuffle(lines)
                data = bytearray(b"".join(lines))
    return bytes(data)


def profile(path: Path, dice: random.Random) -> None:
    """A profile, and each loadout of it."""
    path.write_bytes(spoilt(dice.choice(PROFILES), dice))
    read = load_profile(path)
    for loadout in (None, *read.loadouts):
        read.plan(loadout)


def log(path: Path, dice: random.Random) -> None:
    """A log, to its last row."""
    path.write_bytes(spoilt(LOG, dice))
    for _ in open_log(path, PLAN).rows():
        pass


def start_state(path: Path, dice: random.Random) -> None:
    """A start state beside a log."""
    path.with_name(path.name + SUFFIX).write_bytes(spoilt(STATE, dice))
    read_start_state(path, PLAN)


def rehearsal(path: Path, dice: random.Random) -> None:
    """A saved receiver test."""
    path.write_bytes(spoilt(REHEARSAL, dice))
    read_rehearsal(path)


def frames(_: Path, dice: random.Random) -> None:
    """What comes down the wire, in pieces."""
    sent = b"".join(encode(Frame(n, 20_000 * n, (3000, 3000, 2000), 1, 7400)) for n in range(20))
    data, decoder = spoilt(sent, dice), Decoder()
    while data:
        size = dice.randint(1, 40)
        decoder.feed(data[:size])
        data = data[size:]


PLAN = parse_profile(TANK.read_text(encoding="utf-8"), "tank").plan()
KINDS: dict[str, Callable[[Path, random.Random], None]] = {
    "profile": profile, "log": log, "start_state": start_state, "rehearsal": rehearsal, "frames": frames,
}  # fmt: skip


def main(kind: str, folder: Path) -> None:
    """Run a corpus; whatever is no refusal of ours escapes with the seed that shows it."""
    for seed in range(EACH):
        begin = time.process_time()
        try:
            KINDS[kind](folder / "file", random.Random(f"{kind} {seed}"))
        except (ProfileError, LogError, OptionError) as error:
            shown = str(error)
            assert visible(shown, "\n") == shown, f"{kind} {seed}: {shown!r}"
            assert shown.count("remedy: ") <= 20, f"{kind} {seed}"
        except (Exception, InternalError) as error:
            raise AssertionError(f"{kind} {seed}") from error
        spent = time.process_time() - begin
        assert spent < MOST_S, f"{kind} {seed} took {spent:.1f} s"
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    assert used < MOST_MB, f"{used:.0f} MB"


@pytest.mark.long
@pytest.mark.timeout(3000)
@pytest.mark.parametrize("kind", KINDS)
def test_no_spoilt_file_does_harm(kind: str, tmp_path: Path) -> None:
    """A process of its own for each corpus, so that its memory can be told."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.hostile.test_fuzz", kind, str(tmp_path)],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
