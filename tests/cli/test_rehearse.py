"""`stickwright rehearse`: the guided receiver test through the command line, over a real pty and a pipe."""

import json
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mixer.board.frames import Frame
from mixer.link.rehearse.report import Prompt, ReceiverKind
from tests.cli.boards import CART, Bench, Command, FastBoard, board_at, driven
from tests.lengths import cases
from tests.link.receivers import Person, Receiver

pytestmark = pytest.mark.needs_tool("serial")


@contextmanager
def rehearsing(folder: Path, bench: Bench, *words: str) -> Iterator[tuple[Command, FastBoard]]:
    """A rehearsal under way; the result goes to result.json."""
    profile = folder / "cart.toml"
    profile.write_text(CART)
    with board_at(folder / "board", bench.frame) as board:
        bench.command = command = Command(
            "rehearse",
            profile,
            "--port",
            board.path,
            "-o",
            folder / "result.json",
            *words,
            heard=bench.hear,
        )
        yield command, board


def saved(folder: Path) -> Any:  # noqa: ANN401  whatever the command saved
    """The result that was saved."""
    return json.loads((folder / "result.json").read_text(encoding="utf-8"))


def outcome_of(result: Any, name: str) -> str:  # noqa: ANN401
    """How a step ended."""
    return next(step["outcome"] for step in result["steps"] if step["step"] == name)


@pytest.mark.parametrize(
    ("kind", "code", "driving"),
    cases(
        [(ReceiverKind.HOLDS, 1, "failed")],
        [(ReceiverKind.STOPS, 0, "passed"), (ReceiverKind.PRESET, 0, "passed")],
    ),
)
def test_each_kind_of_receiver_is_judged_right(
    tmp_path: Path, kind: ReceiverKind, code: int, driving: str
) -> None:
    """A person who follows the prompts on screen ends with the right verdict, saved and shown."""
    with rehearsing(tmp_path, Bench(Person(Receiver(kind)))) as (command, _):
        ended, out = command.end()

    assert ended == code, command.err
    result = saved(tmp_path)
    assert (result["receiver"], result["complete"], result["passed"]) == (kind, True, code == 0)
    assert outcome_of(result, "off while driving") == driving
    assert f"receiver: {kind}" in out
    assert ("PASSED: every step" if code == 0 else "NOT PASSED: ") in out
    assert "no certificate" in out
    assert command.narration[0].startswith("ready: Wheels off the ground? Weapon locked")


def test_json_is_the_saved_result(tmp_path: Path) -> None:
    """With --json stdout carries the one document; the prompts stay on stderr."""
    with rehearsing(tmp_path, Bench(Person(Receiver(ReceiverKind.STOPS))), "--json") as (command, _):
        code, out = command.end()

    assert code == 0, command.err
    assert json.loads(out) == saved(tmp_path)


def test_nothing_happens_without_a_yes(tmp_path: Path) -> None:
    """A no ends it with 1, and the saved result says that nothing was tried."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.refuses = {"ready"}
    with rehearsing(tmp_path, Bench(person)) as (command, _):
        code, out = command.end()

    assert code == 1
    assert saved(tmp_path)["passed"] is False
    assert "NOT PASSED: 1 failed; it ended before its last step" in out
    assert "signal" not in [step["step"] for step in saved(tmp_path)["steps"]]


@pytest.mark.parametrize("how", cases(["SIGINT", "SIGKILL"], ["SIGTERM", "end of input"]))
def test_a_rehearsal_that_is_broken_off_claims_nothing(tmp_path: Path, how: str) -> None:
    """In the middle of a step: exit 130 (or the kill's own), no file, nothing on stdout, no traceback."""
    bench = Bench(Person(Receiver(ReceiverKind.STOPS)))
    with rehearsing(tmp_path, bench) as (command, _):
        command.wait_for("off at rest: ")
        if how == "end of input":
            bench.command = None
            command.hang_up()
        else:
            command.send(signal.Signals[how])
        code, out = command.end()

    assert code == (-signal.SIGKILL if how == "SIGKILL" else 130), command.err
    assert not (tmp_path / "result.json").exists()
    assert "PASSED" not in out
    assert "Traceback" not in command.err
    assert how == "SIGKILL" or command.narration[-1].startswith("broken off: ")


def test_a_pulled_plug_ends_it_with_the_remedy(tmp_path: Path) -> None:
    """What the receiver did meanwhile is not known, so the test has to begin again."""
    with rehearsing(tmp_path, Bench(Person(Receiver(ReceiverKind.STOPS)))) as (command, board):
        command.wait_for("stick throttle: ")
        board.unplug()
        code, out = command.end()

    assert code == 2
    assert "has gone away" in command.err
    assert "begin again" in command.err
    assert "Traceback" not in command.err
    assert (out, (tmp_path / "result.json").exists()) == ("", False)


def test_answers_typed_ahead_are_refused(tmp_path: Path) -> None:
    """A yes that stood in the pipe before the question was on screen is no yes."""
    profile = tmp_path / "cart.toml"
    profile.write_text(CART)
    with board_at(tmp_path / "board", lambda n: replace(driven(n), time_us=n * 100)) as board:
        command = Command("rehearse", profile, "--port", board.path)
        for _ in range(3):
            command.answer("yes")
        command.hang_up()
        code, _ = command.end()

    assert code == 130
    assert "too soon: 'yes'" in command.err
    assert not any("signal" in line for line in command.narration)


def test_frames_that_were_missing_make_a_step_unclear(tmp_path: Path) -> None:
    """A second without frames looks like a receiver that stops, so that step proves nothing; others do."""
    bench = Bench(Person(Receiver(ReceiverKind.STOPS)))
    late_us = 0

    def with_hole(n: int) -> Frame:
        nonlocal late_us
        frame = bench.frame(n)
        if not late_us and any(
            "rest. Switch the transmitter OFF" in prompt.text for prompt in bench.prompts
        ):
            late_us = 1_000_000
        return replace(frame, time_us=frame.time_us + late_us)

    profile = tmp_path / "cart.toml"
    profile.write_text(CART)
    with board_at(tmp_path / "board", with_hole) as board:
        bench.command = command = Command(
            "rehearse", profile, "--port", board.path, "-o", tmp_path / "result.json", heard=bench.hear
        )
        code, out = command.end()

    assert code == 1, command.err
    result = saved(tmp_path)
    assert (result["complete"], result["passed"]) == (True, False)
    assert outcome_of(result, "off at rest") == "unclear"
    assert outcome_of(result, "off while driving") == "passed"
    assert "no frame came for" in out


@pytest.mark.parametrize(
    ("line", "step", "answers", "meaning"),
    [
        ("", "off at rest", ("done", "skip"), "done"),
        ("S", "off at rest", ("done", "skip"), "skip"),
        (" Done ", "off at rest", ("done", "skip"), "done"),
        ("y", "off while driving", ("yes", "no"), "yes"),
        ("y", "ready", ("yes", "no"), "y"),
        ("", "ready", ("yes", "no"), ""),
        ("YES", "ready", ("yes", "no"), "yes"),
        ("dx", "off at rest", ("done", "skip"), "dx"),
    ],
)
def test_short_answers(line: str, step: str, answers: tuple[str, ...], meaning: str) -> None:
    """A first letter will do and Enter means done, but safety is confirmed in full."""
    assert Prompt(step, "", answers, in_full=step == "ready").meant(line) == meaning
