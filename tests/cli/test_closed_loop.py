"""The loop closed: an exported mix in the real firmware on the simulated chip, at the far end of a pty.

The chip runs as fast as it can and waits while what it has sent is not read, so no test depends on how fast
the machine is.
"""

import contextlib
import multiprocessing
import threading
import time
from collections.abc import Callable, Iterator
from multiprocessing.synchronize import Event
from pathlib import Path

import pytest

from mixer.examples.shipped import example_text
from mixer.link.serial_port import open_serial
from mixer.link.session import LinkSession
from mixer.link.source import open_source
from mixer.live.views.snapshot import Snapshot
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile
from tests.cli.boards import unread
from tests.cli.conftest import Run
from tests.link.firmware import build_board
from tests.link.ptys import PtyFarEnd
from tests.link.simavr import MHZ, Board, Edge
from tests.live.benches import Bench

pytestmark = [
    *(pytest.mark.needs_tool(name) for name in ("avr-gcc", "simavr", "serial")),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),  # the chip uses no lock of ours
]

PERIOD_US = 20_003.7
SLICE_US = 2_000
MOST_UNREAD = 256
"""Bytes that may wait in the pty before the chip stands still."""
BAUD = 1_000_000
CHANNELS = 5
PINS = (("B", 0), ("B", 1), ("C", 0))
"""Where a reader with so many has the tank's receiver channels 1, 2 and 5."""


def driven(n: int) -> tuple[int, int, int]:
    """Steering, throttle, arm of the n-th receiver frame: rest, arm, sweep, disarm, and again."""
    at = n % 250
    if at < 60 or at >= 220:
        return 1500, 1500, 2000 if 20 <= at < 220 else 1000
    return 1000 + n * 37 % 1001, 1000 + n * 53 % 1001, 2000


def edges() -> Iterator[Edge]:
    """That drive on the tank's pins, for ever."""
    n = 0
    while True:
        at = 50_000 + n * PERIOD_US
        for (port, pin), width in zip(PINS, driven(n), strict=True):
            yield Edge(round(at * MHZ), port, pin, 1)
            yield Edge(round((at + width) * MHZ), port, pin, 0)
            at += width + 30
        n += 1


def run_chip(elf: bytes, far: PtyFarEnd, begins: Event, *, begun: bool) -> None:
    """The simulated board with its serial port at a pty, for as long as this process lives."""
    board = Board(elf)
    board.play(edges())
    if begun:
        board.run_seconds(2)
        board.take()
    begins.wait()
    while True:
        if unread(far) > MOST_UNREAD:
            time.sleep(0.0005)
            continue
        board.run_until(board.cycle + SLICE_US * MHZ)
        far.write(board.take())


@contextlib.contextmanager
def chip_with(mix: Path, tick_ms: int, *, begun: bool = False) -> Iterator[tuple[Event, str]]:
    """A chip with an exported mix: what lets it begin, and the path of its port.

    `begun`: it has driven for two seconds before anybody listens. It runs in a process of its own, since it
    would have to wait for this one's other threads a million times a second.
    """
    elf = build_board(MIX=str(mix), FRAME_US=tick_ms * 1000, BAUD=f"{BAUD}UL", CHANNELS=CHANNELS)
    apart = multiprocessing.get_context("fork")
    begins = apart.Event()
    with PtyFarEnd() as far:
        chip = apart.Process(target=run_chip, args=(elf, far, begins), kwargs={"begun": begun}, daemon=True)
        chip.start()
        try:
            yield begins, far.path
        finally:
            chip.kill()
            chip.join()


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    """The smallest example as somebody's own, with a tick in which its board has time to say who it is."""
    path = tmp_path / "tank.toml"
    path.write_text(example_text("tank_pair", path).replace("tick_ms = 2", "tick_ms = 4"), encoding="utf-8")
    return path


def until(bench: Bench, holds: Callable[[Snapshot], bool]) -> Snapshot:
    """Pictures of the bench until something holds; the reader's thread gets real time to run."""
    for _ in range(4000):
        snapshot = bench.run(1 / 30)
        if holds(snapshot):
            return snapshot
        time.sleep(0.002)
    raise AssertionError(snapshot.link)


def test_record_finds_parity_and_an_older_mix_with_what_changed(run: Run, tank: Path) -> None:
    """Exported, built, powered up, recorded: every tick agrees. A value turned since: told by name."""
    mix = tank.with_name("mix")
    assert run("export", tank, "-o", mix).code == 0
    prints = load_profile(tank).fingerprint()
    for name, turned in (("now", False), ("since", True)):
        if turned:
            text = tank.read_text(encoding="utf-8")
            tank.write_text(text.replace("expo = 0.3", "expo = 0.5"), encoding="utf-8")
            assert load_profile(tank).fingerprint() != prints
        with chip_with(mix, load_profile(tank).plan().tick_ms) as (begins, port):
            threading.Timer(0.3, begins.set).start()
            words = ("--port", port, "--baud", BAUD, "-o", tank.with_name(f"{name}.csv"), "--seconds", "3")
            ran = run("record", tank, *words, "--json")

        assert ran.code == int(turned), ran.err
        assert ran.data["board"]["fingerprint"] == prints
        parity, known = ran.data["parity"], ran.data["aboard"]
        assert (parity["verdict"], parity["passed_over"]) == ("agrees", 0)
        assert parity["compared"] == ran.data["rows"] > 700
        assert known["runs"] == ("older" if turned else "this")
        assert known["changes"] == ["shape.soft.expo: 0.3 -> 0.5"] * turned


def test_the_bench_finds_parity_and_an_edit_makes_the_board_the_older_one(run: Run, tank: Path) -> None:
    """Met while it drives; 100 % from where its state is known; an edit is no difference, and is told."""
    mix = tank.with_name("mix")
    assert run("export", tank, "-o", mix).code == 0
    bench = Bench(tank.parent, "tank")
    session = bench.session
    with chip_with(mix, session.robot.plan.tick_ms, begun=True) as (begins, port):
        tunings = Tunings(session.tuning.profile)
        link = open_source(port, tunings, lambda: LinkSession(lambda: open_serial(port, BAUD)))
        session.connect(link)
        begins.set()
        seen = until(bench, lambda view: view.link.board.compared > 200).link.board
        assert (seen.name, seen.runs, seen.agreeing[:8]) == ("ATmega328P", "this", "100.00 %")
        assert seen.passed_over > 100, "armed when it was met: not known before it is disarmed"

        assert session.tuning.set("shape.soft.expo", 0.5) == ""
        before = seen.compared
        seen = until(bench, lambda view: view.link.board.runs == "other").link.board
        assert seen.told.endswith("since then: shape.soft.expo: 0.3 -> 0.5")
        seen = until(bench, lambda view: view.link.board.compared > before + 200).link.board
        assert (seen.differing, seen.first) == (0, "")
        session.tuning.undo()
        until(bench, lambda view: view.link.board.runs == "this")
    told = bench.words("link")
    assert [words for words in told if words.startswith("from here on every tick of the board is compared")]
    assert [words for words in told if words.startswith("the board: it runs") and "since then" in words]
    session.close()
