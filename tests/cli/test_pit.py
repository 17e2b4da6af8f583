"""`stickwright pit`: the check before a match through the command line, over a real pty."""

import json
import os
import pty
import shutil
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

import pytest

from mixer.link.rehearse.report import ReceiverKind
from mixer.profile.journal import journal_of
from tests.cli.boards import CART, Bench, Command, board_at
from tests.cli.conftest import Run
from tests.link.receivers import Person, Receiver

pytestmark = pytest.mark.needs_tool("serial")


def crew() -> Bench:
    """A person who does all that is asked but lets no output be twitched."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.refuses = {"before outputs"}
    return Bench(person)


def test_it_is_left_and_taken_up_again_and_says_what_is_missing(tmp_path: Path) -> None:
    """Ctrl-C keeps what was done; the same command goes on there; what was skipped makes it not ready."""
    profile = tmp_path / "cart.toml"
    profile.write_text(CART)
    bench = crew()
    with board_at(tmp_path / "board", bench.frame) as board:
        bench.command = command = Command("pit", profile, "--port", board.path, heard=bench.hear)
        command.wait_for("stick steer: ")
        command.send(signal.SIGINT)
        assert command.end() == (130, ""), command.err
    (file,) = tmp_path.glob("cart.pit-*.json")
    before = {step["step"]: step for step in json.loads(file.read_text())["steps"]}
    assert before["stick throttle"]["outcome"] == "passed"

    bench = crew()
    with board_at(tmp_path / "board", bench.frame) as board:
        bench.command = command = Command("pit", profile, "--port", board.path, "--json", heard=bench.hear)
        code, out = command.end()

    result = json.loads(out)
    assert code == 1, command.err
    assert command.narration[0].startswith("taken up again: ")
    assert not [line for line in command.narration if line.startswith("stick throttle: ")], "asked again"
    assert json.loads(file.read_text()) | {"file": str(file)} == result
    assert (result["complete"], result["ready"]) == (True, False)
    after = {step["step"]: step for step in result["steps"]}
    assert after["stick throttle"] == before["stick throttle"]
    assert {name for name, step in after.items() if step["outcome"] != "passed"} == {
        "before outputs", "output left", "output right",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said"), [("{}", "robot"), ("[]", "no check of the pit"), (None, "No such file")]
)
def test_what_is_no_earlier_check_is_refused(run: Run, tmp_path: Path, text: str | None, said: str) -> None:
    """--since wants what `pit` wrote: anything else ends with 2, the file's name and the remedy."""
    (tmp_path / "cart.toml").write_text(CART)
    if text is not None:
        (tmp_path / "old.json").write_text(text)

    ran = run("pit", tmp_path / "cart.toml", "--since", tmp_path / "old.json")

    assert ran.code == 2
    assert said in ran.err
    assert "stickwright pit" in ran.err


def test_it_is_gone_through_in_a_terminal_without_a_board(tmp_path: Path) -> None:
    """What is typed at the first question is judged there; nothing crashes for want of channels to show."""
    (tmp_path / "cart.toml").write_text(CART)
    keyboard, terminal = pty.openpty()
    words = [sys.executable, "-m", "mixer.cli", "pit", tmp_path / "cart.toml"]
    with subprocess.Popen(words, stdin=terminal, stdout=terminal, stderr=terminal) as pit:
        os.close(terminal)
        seen = b""
        while b"_" not in seen:
            seen += os.read(keyboard, 4096)
        os.write(keyboard, b"\x04")
        with suppress(OSError):
            while more := os.read(keyboard, 4096):
                seen += more
    os.close(keyboard)

    assert pit.returncode == 130, seen
    assert b"no board is connected" in seen


def test_what_cannot_be_written_costs_no_verdict(tmp_path: Path) -> None:
    """The folder goes away, the disk of the journal is full: all is shown and told, and ends as judged."""
    profile, saved = tmp_path / "cart.toml", tmp_path / "out" / "pit.json"
    profile.write_text(CART)
    saved.parent.mkdir()
    journal_of(profile).symlink_to("/dev/full")

    def heard(line: str) -> None:
        if line.endswith("]"):
            threading.Timer(0.3, command.answer, ["skip nobody here"]).start()
        if saved.exists():
            shutil.rmtree(saved.parent, ignore_errors=True)

    command = Command("pit", profile, "-o", saved, "--json", heard=heard)
    code, out = command.end()

    result = json.loads(out)
    assert (code, result["ready"], result["file"]) == (1, False, None), command.err
    assert {step["outcome"] for step in result["steps"]} == {"skipped"}
    assert "Traceback" not in command.err
    told = command.narration[-2:]
    assert told[0].startswith("not in the journal: ")
    assert "No space left on device" in told[0]
    assert told[1].startswith(f"NOT SAVED: {saved} cannot be written")
