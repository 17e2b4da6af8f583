"""The loop closed: a robot's whole firmware on a simulated chip at the far end of a pty, record and bench.

The chip runs as fast as it can and waits while what it has sent is not read, so no test depends on how fast
the machine is.
"""

import contextlib
import multiprocessing
import re
import threading
import time
from collections.abc import Callable, Iterator
from multiprocessing.synchronize import Event
from pathlib import Path

import pytest

from mixer.board.chip.chip import Edge
from mixer.board.chip.known import chip_of
from mixer.board.engine.flashed import Flashed, flash
from mixer.core.plan import Plan
from mixer.examples.shipped import example_text
from mixer.link.source import open_source
from mixer.live.views.snapshot import Snapshot
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile
from tests.cli.boards import unread
from tests.cli.conftest import Run
from tests.link.ptys import PtyFarEnd
from tests.live.benches import Bench

pytestmark = [
    pytest.mark.needs_tool("serial"),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),  # the chip uses no lock of ours
]
AVR = [pytest.mark.needs_tool(name) for name in ("avr-gcc", "gcc", "simavr")]
ARM = [pytest.mark.needs_tool(name) for name in ("arm-none-eabi-gcc", "node", "rp2040js")]
PERIOD_US = 20_003.7
SLICE_MS = 2
MOST_UNREAD = 256
"""Bytes that may wait in the pty before the chip stands still."""
LATE_TICKS = 4


def driven(plan: Plan, n: int) -> list[int]:
    """The n-th receiver frame: rest, arm, sweep, disarm, and again; other switches stay."""
    at = n % 250
    pulses = [1500] * len(plan.channels)
    if 60 <= at < 220:
        for number, stick in enumerate(plan.sticks):
            pulses[stick.channel] = 1050 + n * (37 + 16 * number) % 901
    for number, switch in enumerate(plan.switches):
        on = plan.guard.arm is not None and plan.guard.arm.switch == number and 20 <= at < 220
        pulses[switch.channel] = 2000 if on else 1000
    return pulses


def edges(robot: Flashed) -> Iterator[Edge]:
    """That drive on the robot's pins, one wire after the other, for ever."""
    us = robot.board.hz // 1_000_000
    levels = zip(robot.pins.contacts, robot.plan.contacts, strict=True)
    yield from (Edge(0, pin, contact.level(closed=False)) for pin, contact in levels)
    n = 0
    while True:
        at = 50_000 + n * PERIOD_US
        for pin, width in zip(robot.pins.channels, driven(robot.plan, n), strict=True):
            yield Edge(round(at * us), pin, 1)
            yield Edge(round((at + width) * us), pin, 0)
            at += width + 30
        n += 1


def run_chip(robot: Flashed, far: PtyFarEnd, begins: Event, begun_s: int, late_s: int) -> None:
    """The simulated board with its serial port at a pty, for as long as this process lives."""
    chip, track = chip_of(robot.board.key, robot.image), edges(robot)
    due, late = next(track), late_s * chip.hz
    while True:
        if chip.cycle >= begun_s * chip.hz:
            begins.wait()
        if unread(far) > MOST_UNREAD:
            time.sleep(0.0005)
            continue
        until = chip.cycle + SLICE_MS * chip.hz // 1000
        some = []
        while due.cycle < until:
            some.append(due)
            due = next(track)
        sent = chip.run(until, some).sent
        if chip.cycle > begun_s * chip.hz:
            far.write(bytes(byte for byte, _ in sent))
        if late and chip.cycle > late:
            chip.halt(LATE_TICKS * robot.plan.tick_ms * chip.hz // 1000)
            late = 0


@contextlib.contextmanager
def chip_with(
    profile: Path, board: str, *, begun_s: int = 0, late_s: int = 0
) -> Iterator[tuple[Event, str]]:
    """A chip with a robot's firmware: what lets it begin, and the path of its port.

    `begun_s`: it has driven so long before anybody listens; `late_s`: when its program stands still for
    some ticks. It runs in a process of its own, beside the threads of the bench.
    """
    robot, apart = flash(load_profile(profile), None, board), multiprocessing.get_context("fork")
    begins = apart.Event()
    with PtyFarEnd() as far:
        chip = apart.Process(target=run_chip, args=(robot, far, begins, begun_s, late_s), daemon=True)
        chip.start()
        try:
            yield begins, far.path
        finally:
            chip.kill()
            chip.join()


def own(folder: Path, robot: str) -> Path:
    """An example robot as somebody's own."""
    path = folder / f"{robot}.toml"
    path.write_text(example_text(robot, path), encoding="utf-8")
    return path


def until(bench: Bench, holds: Callable[[Snapshot], bool]) -> Snapshot:
    """Pictures of the bench until something holds; the reader's thread gets real time to run."""
    for _ in range(4000):
        snapshot = bench.run(1 / 30)
        if holds(snapshot):
            return snapshot
        time.sleep(0.002)
    raise AssertionError(snapshot.link)


@pytest.mark.parametrize(
    ("robot", "board", "key"),
    [
        pytest.param(
            "tank_pair", "atmega328p", "shape.soft.expo: 0.3 -> 0.5", marks=[*AVR, pytest.mark.long]
        ),
        pytest.param(
            "sample_carrier", "rp2040", "shape.dash.expo: 0.3 -> 0.5", marks=[*ARM, pytest.mark.long]
        ),
    ],
)
def test_record_finds_parity_and_an_older_mix_with_what_changed(
    run: Run, tmp_path: Path, robot: str, board: str, key: str
) -> None:
    """Exported, built, powered up, recorded: every tick agrees. Two values turned since: told by name."""
    path = own(tmp_path, robot)
    prints = load_profile(path).fingerprint()
    assert run("export", path, "--board", board, "-o", tmp_path / "project").code == 0
    for turned in (False, True):
        with chip_with(path, board) as (begins, port):
            if turned:
                text = path.read_text(encoding="utf-8")
                text = re.sub(r"^divider_kohm = .*\n", "", text, flags=re.MULTILINE)
                text = text.replace("[battery]\n", "[battery]\ndivider_kohm = [47, 10]\n")
                path.write_text(text.replace("expo = 0.3", "expo = 0.5"), encoding="utf-8")
                assert load_profile(path).fingerprint() != prints
            threading.Timer(0.3, begins.set).start()
            log = tmp_path / f"{turned}.csv"
            ran = run("record", path, "--port", port, "-o", log, "--seconds", "3", "--json")

        assert ran.code == int(turned), ran.err
        assert ran.data["board"]["fingerprint"] == prints
        parity, known = ran.data["parity"], ran.data["aboard"]
        assert (parity["verdict"], parity["passed_over"]) == ("agrees", 0)
        assert parity["compared"] == ran.data["rows"] > 200
        assert known["runs"] == ("older" if turned else "this")
        assert ran.data["wired"]["wires"] == ("other" if turned else "this")
        assert (ran.data["wired"]["fingerprint"] == ran.data["wired"]["in_use"]) is not turned
        assert len(ran.data["wired"]["changes"]) == int(turned)
        assert ("since then: battery's full scale: " in ran.err) is turned
        assert known["changes"] == [key] * turned


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_a_late_tick_is_heard_and_every_tick_around_it_agrees(run: Run, tmp_path: Path, board: str) -> None:
    """The program stands still for four ticks while it drives: told, counted, and both mixes begin anew."""
    path = own(tmp_path, "tank_pair")
    with chip_with(path, board, late_s=2) as (begins, port):
        threading.Timer(0.3, begins.set).start()
        log = tmp_path / "drive.csv"
        ran = run("record", path, "--port", port, "-o", log, "--seconds", "3", "--json")
    assert ran.code == 0, ran.err
    assert "a tick came late on the board: outputs went to rest" in ran.err
    assert ran.data["counts"]["late"] == 1
    assert (ran.data["counts"]["lost"], ran.data["counts"]["restarts"]) == (0, 0)
    assert ran.data["board"]["started"] == 1 | 16
    assert (ran.data["parity"]["verdict"], ran.data["parity"]["passed_over"]) == ("agrees", 0)


@pytest.mark.parametrize("board", [pytest.param("atmega328p", marks=AVR)])
def test_the_bench_finds_parity_and_an_edit_makes_the_board_the_older_one(
    tmp_path: Path, board: str
) -> None:
    """Met while it drives; 100 % from where its state is known; an edit is no difference, and is told."""
    path = own(tmp_path, "tank_pair")
    bench = Bench(tmp_path, "tank_pair")
    session = bench.session
    with chip_with(path, board, begun_s=4) as (begins, port):
        session.connect(open_source(port, Tunings(session.tuning.profile)))
        begins.set()
        seen = until(bench, lambda view: view.link.board.compared > 100).link.board
        assert (seen.name, seen.runs, seen.agreeing[:8]) == ("ATmega328P", "this", "100.00 %")
        assert seen.passed_over > 100, "armed when it was met: not known before it is disarmed"

        assert session.tuning.set("shape.soft.expo", 0.5) == ""
        before = seen.compared
        seen = until(bench, lambda view: view.link.board.runs == "other").link.board
        assert seen.told.endswith("since then: shape.soft.expo: 0.3 -> 0.5")
        seen = until(bench, lambda view: view.link.board.compared > before + 100).link.board
        assert (seen.differing, seen.first) == (0, "")
        session.tuning.undo()
        until(bench, lambda view: view.link.board.runs == "this")
        assert seen.wires == "this"
    told = bench.words("link")
    assert [words for words in told if words.startswith("from here on every tick of the board is compared")]
    assert [words for words in told if words.startswith("the board: it runs") and "since then" in words]
    session.close()
