"""The command line as a whole."""

import subprocess
import sys

import pytest

from mixer.cli import check
from mixer.cli.main import COMMANDS, build_parser, main
from mixer.errors import InternalError
from tests.cli.conftest import CARRIER, ROUGH, SWEEPS, Run


def test_every_command_has_a_module_and_help(run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command explains itself."""
    for name in COMMANDS:
        with pytest.raises(SystemExit) as ended:
            build_parser().parse_args([name, "--help"])
        assert ended.value.code == 0
        assert name in capsys.readouterr().out


def test_wrong_words_end_with_two_and_a_remedy(run: Run) -> None:
    """An unknown command is bad input, not a usage dump."""
    ran = run("chek")
    assert ran.code == 2
    assert ran.err.startswith("error: ")
    assert "remedy: see `stickwright --help`" in ran.err


def test_completion_scripts_are_offered(capsys: pytest.CaptureFixture[str]) -> None:
    """A completion script names every command."""
    for shell in ("bash", "zsh"):
        with pytest.raises(SystemExit):
            build_parser().parse_args(["--print-completion", shell])
        script = capsys.readouterr().out
        assert all(name in script for name in COMMANDS)


def test_our_own_bugs_are_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    """An InternalError is not turned into 'bad input'."""

    def broken(*_: object) -> None:
        raise InternalError("cannot happen")

    monkeypatch.setattr(check, "run", broken)
    with pytest.raises(InternalError):
        main(["check", str(CARRIER)])


def test_pipes_get_no_colour_and_a_closed_pipe_no_traceback() -> None:
    """Output into `head` is plain text and ends quietly."""
    command = f"{sys.executable} -m mixer.cli replay {CARRIER} {ROUGH} -q | head -n 1"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert "\x1b" not in done.stdout
    assert "Traceback" not in done.stderr
    assert done.stdout.startswith("sample carrier")


def test_explain_follows_a_pulse_to_the_wire(run: Run) -> None:
    """The chain begins with the pulse asked for and ends on the wire."""
    ran = run("explain", CARRIER, "--at", "throttle=1620 arm=on", "--output", "left_front")
    assert ran.code == 0
    assert "throttle receives 1620 µs" in ran.out
    assert "wire" in ran.out
    assert "right_front" not in ran.out
    for words, said in (
        (["--at", "throttle"], "gives no input a value"),
        (["--at", "throttle=1 throttle=2"], "twice"),
        (["--at", "throtle=1"], "did you mean throttle"),
        (["--output", "left_frnt"], "did you mean left_front"),
    ):
        ran = run("explain", CARRIER, *words)
        assert ran.code == 2
        assert said in ran.err


def test_calibrate_prints_lines_to_paste(run: Run) -> None:
    """The proposal of the recorded sweeps is TOML."""
    ran = run("calibrate", SWEEPS)
    assert ran.code == 0
    assert "[stick.throttle]" in ran.out
    assert run("calibrate", SWEEPS, "--json", "-q").data["channels"][0]["name"] == "throttle"
