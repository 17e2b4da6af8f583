"""`stickwright record` against a simulated board at the far end of a real pty."""

import json
import signal
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

import mixer.cli.link.board
from mixer.board.frames import BoardMix, Frame, Identity, Restarted, encode
from mixer.cli import record
from mixer.cli.link.board import BoardSession
from mixer.cli.link.parity import is_wrong, show, verdict, wires_result
from mixer.cli.link.quiet import QuietWatch
from mixer.cli.link.recording import Recording
from mixer.cli.link.report import show_jitter
from mixer.cli.link.signals import Stop
from mixer.cli.shared.console import Console
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.link.binding import Binding
from mixer.link.recorder import Progress
from mixer.link.serial_port import PortInfo, open_serial
from mixer.link.session import Counts, MachineClock
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.profile import load_profile
from mixer.runs.log.cells import Row
from mixer.runs.log.read import open_log
from tests.cli.boards import CART, Command, board_at, driven
from tests.cli.conftest import Run
from tests.lengths import cases
from tests.link.identities import identity_of
from tests.link.loopback import loopback_pair
from tests.link.ptys import PtyFarEnd
from tests.plans import cart_plan

pytestmark = pytest.mark.needs_tool("serial")


@pytest.fixture
def cart(tmp_path: Path) -> Path:
    """The small robot's profile."""
    path = tmp_path / "cart.toml"
    path.write_text(CART)
    return path


def rows_of(log: Path, profile: Path) -> list[Row]:
    """All rows, read for the robot."""
    return list(open_log(log, load_profile(profile).plan(None)).rows())


def is_a_part(rows: list[Row], sent: list[Frame]) -> bool:
    """Whether the rows are a run of what was sent, none missing, none changed."""
    pulses, all_pulses = [row.pulses for row in rows], [frame.pulses_us for frame in sent]
    starts = (at for at, found in enumerate(all_pulses) if found == pulses[0])
    return any(all_pulses[at : at + len(pulses)] == pulses for at in starts)


def test_a_recording_is_what_was_sent_and_replays(run: Run, cart: Path) -> None:
    """Every row of sixteen seconds is a frame sent, in order and at its time, and the log replays live."""
    log = cart.with_name("drive.csv")
    with board_at(cart.with_name("board")) as board:
        ran = run("record", cart, "--port", board.path, "-o", log, "--seconds", "16", "--json")
        assert ran.code == 0, ran.err
        rows = rows_of(log, cart)
        assert is_a_part(rows, board.sent)

    assert [row.t_us for row in rows] == [n * 20_000 for n in range(len(rows))]
    assert ran.data["rows"] == len(rows) >= 801
    assert ran.data["counts"]["drop_rate"] == 0
    assert ran.data["stopped_by"] == "--seconds"
    again = run("replay", cart, log, "--json")
    assert again.code == 0, again.err
    assert again.data["guard"]["seconds"]["live"] > 4
    assert again.data["channels"][0]["pulses"] == len(rows)


def test_the_jitter_report_measures_the_rest_in_the_drive(run: Run, cart: Path) -> None:
    """Noise of half a µs on one wire comes from the seconds at rest, though the sticks sweep in others."""
    with board_at(cart.with_name("board")) as board:
        words = ("--port", board.path, "-o", cart.with_name("drive.csv"), "--seconds", "14")
        data = run("record", cart, *words, "--json").data
        told = run("record", cart, *words, "--overwrite").out

    throttle, steer, _arm = data["rest"]["channels"]
    assert (throttle["middle_us"], throttle["peak_to_peak_us"]) == (pytest.approx(1500.25, abs=0.3), 0.5)
    assert steer["peak_to_peak_us"] == 0
    assert throttle["deadband_us"] == 2
    assert 2.9 <= data["rest"]["seconds"] <= 4
    assert data["frames_hz"] == pytest.approx(50)
    assert (data["worst_frame_gap_ms"], data["wires"][0]["worst_gap_ms"]) == (20, 20)
    assert "2 µs = 0.004" in told


@pytest.mark.parametrize("number", cases([signal.SIGTERM], [signal.SIGINT]))
def test_a_recording_that_is_stopped_is_whole(cart: Path, number: signal.Signals) -> None:
    """Ctrl-C and TERM are how a recording ends: exit 0, a summary, and every row it counted in the file."""
    log = cart.with_name("drive.csv")
    with board_at(cart.with_name("board")) as board:
        command = Command("record", cart, "--port", board.path, "-o", log, "--json")
        command.wait_for("Ctrl-C stops")
        board.wait_for(len(board.sent) + 300)
        command.send(number)
        code, out = command.end()
        rows = rows_of(log, cart)
        assert is_a_part(rows, board.sent)

    assert code == 0, command.err
    data = json.loads(out)
    assert data["stopped_by"] == "request"
    assert data["rows"] == len(rows) >= 50
    assert log.read_bytes().endswith(b"\r\n")
    assert "Traceback" not in command.err


def test_a_pulled_plug_leaves_a_gap_and_the_recording_goes_on(cart: Path) -> None:
    """Unplugging is told, the port is tried again, and the log has the gap that the board's clock saw."""
    log = cart.with_name("drive.csv")
    with board_at(cart.with_name("board")) as board:
        command = Command("record", cart, "--port", board.path, "-o", log, "--json")
        command.wait_for("Ctrl-C stops")
        board.wait_for(len(board.sent) + 200)
        board.unplug()
        command.wait_for("has gone away")
        board.wait_for(len(board.sent) + 100)
        board.plug()
        command.wait_for("recording goes on; the log has a gap of")
        board.wait_for(len(board.sent) + 200)
        command.send(signal.SIGINT)
        code, out = command.end()

    assert code == 0, command.err
    times = [row.t_us for row in rows_of(log, cart)]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert sum(gap > 1_000_000 for gap in gaps) == 1
    assert f"a gap of {max(gaps) / 1e6:.2f} s" in command.err
    assert json.loads(out)["counts"]["unplugged"] == 1
    assert "Traceback" not in command.err


def with_mix(
    plan: Plan, spoil: Callable[[int, tuple[int, ...]], tuple[int, ...]]
) -> Callable[[int], Frame]:
    """Frames of a board that runs the plan's mix, one a tick, and restarts at frame 400."""
    layout, state = layout_of(plan), list(layout_of(plan).start)

    def frame(n: int) -> Frame:
        nonlocal state
        life = n - 400
        if life == 0:
            state = list(layout.start)
        signals, state = flat_tick(plan, list(driven(n).pulses_us), state)
        wires = tuple(signals[layout.index(f"output.{output.name}.wire")] for output in plan.outputs)
        mix = BoardMix(signals[layout.index("guard.state")], spoil(life, wires))
        at_us = (life + 1) * 20_000 if life >= 0 else 20_000_000 + n * 20_000
        return Frame(life if life >= 0 else n + 1000, at_us, driven(n).widths, 0, None, mix)

    return frame


@pytest.mark.parametrize(
    ("spoil", "code", "verdict", "said"),
    [
        (lambda _n, wires: wires, 0, "agrees", "True [] None"),
        (
            lambda n, wires: (wires[0], wires[1] + (n == 100)),
            1,
            "differs",
            "2.020 s, frame 100: output.right",
        ),
        (lambda _n, wires: wires[:1], 1, "another mix", "the board mixes 3 channels to 1 outputs"),
    ],
    ids=["faithful", "one tick wrong", "other robot"],
)
def test_a_mix_on_the_board_is_compared(
    run: Run, cart: Path, spoil: Callable[..., tuple[int, ...]], code: int, verdict: str, said: str
) -> None:
    """From the board's start on every tick is compared; one wrong number ends with 1 and says where."""
    maker = with_mix(load_profile(cart).plan(None), spoil)
    with board_at(cart.with_name("board"), maker) as board:
        words = ("--port", board.path, "-o", cart.with_name("drive.csv"))
        ran = run("record", cart, *words, "--seconds", "14", "--json")

    assert ran.code == code, ran.err
    parity = ran.data["parity"]
    assert parity["verdict"] == verdict
    assert said in f"{parity['compared'] > 200} {parity['first']} {parity['refused']}"
    assert "the board has started anew" in ran.err


def test_wires_without_a_pulse_are_no_wires_at_rest(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two seconds of a receiver that is off tell nothing of noise, and what to look for is said."""
    plan = load_profile(cart).plan(None)
    quiet = QuietWatch([channel.name for channel in plan.channels])
    for number in range(101):
        quiet.take(Frame(number, number * 20_000, (0,) * len(plan.channels)))
    show_jitter(plan, quiet, Console())
    told = capsys.readouterr().out
    assert "no pulse came on any channel: see that the receiver is on" in told
    assert "noise: from" not in told


def test_the_verdict_on_a_mix_is_told_in_words(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Agreement with its count, a difference with its place and remedy, nothing for a board without mix."""
    tunings = Tunings(load_profile(cart))
    told = []
    for wrong in (-1, 420):
        watch = BoardWatch(tunings)
        maker = with_mix(tunings.plan, lambda n, wires, at=wrong: (wires[0] + (n == at - 400), wires[1]))
        watch.take([Restarted(), *map(maker, range(400, 500))])
        show(watch, Console())
        told.append(capsys.readouterr().out)
    bare = BoardWatch(tunings)
    bare.take([driven(0)])
    show(bare, Console())

    assert told[0] == "the mix on the board agrees in all 100 ticks compared\n"
    assert (
        "DIFFERS from this profile in 1 of 100 ticks; the first:\n  0.420 s, frame 20: output.left"
        in told[1]
    )
    assert "remedy: export" in told[1]
    assert (verdict(bare), capsys.readouterr().out) == ("no mix on the board", "")


def test_a_board_with_another_mix_is_told_at_once(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Which board, why it started and both fingerprints, once; the profile's own mix is no complaint."""
    prints = load_profile(cart).fingerprint()
    for runs, other in (("0123456789ab", True), (prints, False), ("", False)):
        watch = BoardWatch(Tunings(load_profile(cart)))
        recording = Recording(["throttle", "steer", "arm"], watch, None, Console(), MachineClock(), Stop())
        for _ in range(2):
            watch.take([replace(identity_of(load_profile(cart)), fingerprint=runs, started=8)])
            recording.keep_on(lambda *_: None, Progress(0, 0.0, Counts(), 0, ()), [])
        told = capsys.readouterr().err

        assert is_wrong(watch) == other
        assert told.count("the board is ATmega328P") == 1
        assert "because its watchdog had waited in vain" in told
        assert (f"nothing is known here; in use is {prints}" in told) == other


def test_an_older_mix_is_told_with_what_changed_and_compared_with_itself(run: Run, cart: Path) -> None:
    """Exported, flashed, then a value turned in the file: `record` names it and still finds parity."""
    assert run("export", cart, "-o", cart.with_name("mix")).code == 0
    old = load_profile(cart)
    cart.write_text(CART.replace("throttle = 1.0, steer = 1.0", "throttle = 0.9, steer = 1.0"))
    maker = with_mix(old.plan(), lambda _n, wires: wires)

    def told(n: int) -> Frame | Identity:
        return identity_of(old) if n % 50 == 0 else maker(250 + n - n // 50)

    with board_at(cart.with_name("board"), told) as board:
        log = cart.with_name("drive.csv")
        ran = run("record", cart, "--port", board.path, "-o", log, "--seconds", "7", "--json")

    assert ran.code == 1, ran.err
    assert "since then: output.left.mix.throttle: 1 -> 0.9; it is built for wiring" in ran.err
    assert "power came. Export this tuning and flash it" in ran.err
    assert ran.data["aboard"]["runs"] == "older"
    assert ran.data["wired"]["wires"] == "this"
    assert ran.data["aboard"]["changes"] == ["output.left.mix.throttle: 1 -> 0.9"]
    assert ran.data["parity"]["verdict"] == "agrees"
    assert ran.data["parity"]["compared"] > 150


SWAPPED = CART.replace("pin = 10", "pin = 11").replace("pin = 9", "pin = 10").replace("pin = 11", "pin = 9")


def test_wires_of_another_export_fail_the_recording(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """This profile's mix and not its pins: the remedy, and exit 1; older firmware is told as that."""
    old = load_profile(cart)
    cart.write_text(SWAPPED)
    for wiring, wrong, words in (
        (identity_of(old).wiring, True, "those of another export"),
        (None, False, "its firmware is older and does not say"),
    ):
        watch = BoardWatch(Tunings(load_profile(cart)))
        watch.take([replace(identity_of(old), wiring=wiring)])
        show(watch, Console())
        told = capsys.readouterr().out
        assert is_wrong(watch) == wrong
        assert told.startswith("the wires of the board: ")
        assert words in told
        assert told.endswith("  remedy: export this tuning and flash it\n")
        result = wires_result(watch)
        assert result is not None
        assert result.wires == ("other" if wrong else "untold")


@pytest.mark.parametrize("armed", [True, False])
def test_a_mix_that_ran_before_is_not_claimed_to_agree(run: Run, cart: Path, armed: bool) -> None:
    """Connected while it drives nothing is compared; the arm switch off for a moment settles its state."""
    maker = with_mix(load_profile(cart).plan(None), lambda _n, wires: wires)
    with board_at(cart.with_name("board"), lambda n: maker(200 + n % 150 if armed else n % 350)) as board:
        log = cart.with_name("drive.csv")
        ran = run("record", cart, "--port", board.path, "-o", log, "--seconds", "2", "--json")

    assert ran.code == 0, ran.err
    parity = ran.data["parity"]
    assert parity["verdict"] == ("not compared" if armed else "agrees")
    assert (parity["compared"] == 0) == armed
    assert parity["passed_over"] > 0


@pytest.mark.parametrize(
    ("port", "said"),
    [("/dev/ttyNOSUCH", "there is no port"), ("/dev/null", "cannot be used as a serial port")],
)
def test_what_is_no_port_is_told(run: Run, cart: Path, port: str, said: str) -> None:
    """A missing port and another device end with 2, one message, its remedy, and no log."""
    ran = run("record", cart, "--port", port, "-o", cart.with_name("drive.csv"))

    assert ran.code == 2
    assert said in ran.err
    assert "remedy:" in ran.err
    assert "Traceback" not in ran.err
    assert not cart.with_name("drive.csv").exists()


@pytest.mark.parametrize(
    ("sent", "said"),
    [(b"", "nothing came for"), (b"\xf8\x80\x00\x78" * 40, "and no frame among them")],
    ids=["silent", "garbage"],
)
def test_a_board_that_is_none_is_told(
    run: Run, cart: Path, sent: bytes, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Silence and garbage each have their message; what was recorded before under that name is kept."""
    monkeypatch.setattr(mixer.cli.link.board, "ANSWER_WITHIN_S", 0.4)
    log = cart.with_name("drive.csv")
    log.write_text("an earlier drive")
    with PtyFarEnd() as far:
        monkeypatch.setattr(
            mixer.cli.link.board, "open_serial", lambda *where: (open_serial(*where), far.write(sent))[0]
        )
        ran = run("record", cart, "--port", far.path, "-o", log, "--overwrite")

    assert ran.code == 2
    assert said in ran.err
    assert "remedy:" in ran.err
    assert log.read_text() == "an earlier drive"


def test_a_busy_port_is_told(run: Run, cart: Path) -> None:
    """Two programs never share a board."""
    with PtyFarEnd() as far, open_serial(far.path):
        ran = run("record", cart, "--port", far.path, "-o", cart.with_name("drive.csv"))

    assert ran.code == 2
    assert "is in use by another program" in ran.err


def test_a_board_for_a_smaller_robot_is_told(run: Run, cart: Path) -> None:
    """Missing channels are refused before a log is begun; spare ones are named and left out."""
    log = cart.with_name("drive.csv")
    with board_at(cart.with_name("board"), lambda n: Frame(n & 0xFFFF, n * 20_000, (3000,))) as board:
        ran = run("record", cart, "--port", board.path, "-o", log)
    assert ran.code == 2
    assert "the board has 1 channels; arm is on the receiver's channel 3" in ran.err
    assert not log.exists()

    with board_at(
        cart.with_name("board"), lambda n: Frame(n & 0xFFFF, n * 20_000, (3000, 3000, 2000, 2400))
    ) as board:
        ran = run("record", cart, "--port", board.path, "-o", log, "--seconds", "1")
    assert ran.code == 0
    assert "the board has 4 channels; read are throttle 1, steer 2, arm 3" in ran.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "the profile is missing"),
        (["PROFILE", "-o", "x.csv"], "--port is missing"),
        (["PROFILE", "--port", "/dev/null"], "-o is missing"),
        (["PROFILE", "--port", "/dev/null", "-o", "x.csv", "--seconds", "0"], "no time to record"),
        (["PROFILE", "--port", "/dev/null", "-o", "x.csv", "--baud", "-9"], "is no speed"),
        (["PROFILE", "--port", "/dev/null", "-o", "PROFILE", "--overwrite"], "is what this command reads"),
        (["PROFILE", "--port", "/dev/null", "-o", "PROFILE/../old.csv"], "no folder"),
        (["PROFILE", "--port", "/dev/null", "-o", "OLD"], "is there already"),
    ],
)
def test_bad_words_are_told_before_anything_is_opened(
    run: Run, cart: Path, words: list[str], said: str
) -> None:
    """Each has its reason and remedy, and no file is touched."""
    old = cart.with_name("old.csv")
    old.write_text("mine")
    places = {"PROFILE": str(cart), "OLD": str(old)}
    ran = run("record", *(places.get(word, word).replace("PROFILE", str(cart)) for word in words))

    assert ran.code == 2
    assert said in ran.err
    assert "remedy:" in ran.err
    assert (old.read_text(), cart.read_text()) == ("mine", CART)


def test_no_event_is_lost_to_the_wait_for_the_board() -> None:
    """The first frame of a board that has just started, and all that came with it, reach the recording."""
    near, far = loopback_pair()
    sent = [driven(n) for n in range(5)]
    far.write(b"".join(map(encode, sent)))
    session = BoardSession(lambda: near, Binding(cart_plan()))

    assert session.await_frame() == sent[0]
    assert session.poll(0) == sent
    assert session.poll(0) == []
    assert session.counts.frames == 5


def test_ports_are_listed_by_names_people_recognise(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """The list needs no profile, and says so when there is nothing to list."""
    ports = (PortInfo("/dev/ttyUSB0", "CH340 USB serial adapter, USB2.0-Serial", is_usb=True),)
    monkeypatch.setattr(record, "list_ports", lambda: ports)
    ran = run("record", "--list")
    assert ran.code == 0
    assert "/dev/ttyUSB0  CH340 USB serial adapter, USB2.0-Serial" in ran.out
    assert run("record", "--list", "--json").data == [
        {"path": "/dev/ttyUSB0", "name": "CH340 USB serial adapter, USB2.0-Serial", "usb": True}
    ]
    monkeypatch.setattr(record, "list_ports", lambda: ())
    assert "plug the board in" in run("record", "--list").out


def test_this_machines_ports_can_be_listed(run: Run) -> None:
    """The real listing ends well, whatever is plugged in."""
    assert run("record", "--list").code == 0
