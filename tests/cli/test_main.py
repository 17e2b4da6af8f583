"""The command line as a whole."""

import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from mixer.cli import check
from mixer.cli.main import COMMANDS, FOLDERS, SHELLS, build_parser
from mixer.cli.shared.console import Console
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
    for shell in SHELLS:
        with pytest.raises(SystemExit):
            build_parser().parse_args(["--print-completion", shell])
        script = capsys.readouterr().out
        assert all(name in script for name in COMMANDS)


@pytest.mark.parametrize("bug", [InternalError("cannot happen"), ZeroDivisionError("division"), KeyError()])
def test_our_own_bugs_end_with_70_and_a_report(
    run: Run, bug: Exception, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A crash looks neither like bad input nor like a broken rule, and its report is saved and named."""

    def broken(*_: object) -> None:
        raise bug

    monkeypatch.setattr(check, "run", broken)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    ran = run("check", CARRIER)
    assert ran.code == 70
    assert "fault of stickwright itself" in ran.err
    assert "Traceback" not in ran.err
    (report,) = tmp_path.iterdir()
    assert str(report) in ran.err
    assert "Traceback" in report.read_text()
    assert "broken" in report.read_text()


def test_options_are_spoken_in_full(run: Run) -> None:
    """No abbreviation is guessed: what argparse takes for --json, the console would not."""
    for words in (["--js"], ["--qui"], ["--load", "bare"]):
        ran = run("check", CARRIER, *words)
        assert ran.code == 2
        assert "unrecognized arguments" in ran.err


def test_only_what_is_spoken_of_is_imported() -> None:
    """Help loads no command, no numbers and no drawing; a command loads only itself."""
    code = "import sys; from mixer.cli.main import main; main({words}); print(*sorted(sys.modules))"
    for words, ours in ((["--help"], set()), (["--version"], set()), (["new", "/no/x.toml"], {"new"})):
        done = subprocess.run(
            [sys.executable, "-c", code.format(words=words)], capture_output=True, text=True, check=True
        )
        loaded = set(done.stdout.splitlines()[-1].split())
        modules = {name: f"mixer.cli.{FOLDERS.get(name, '')}{name}" for name in COMMANDS}
        assert {name for name, module in modules.items() if module in loaded} == ours
        assert not {"numpy", "rich", "shtab", "textual"} & loaded


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
        (["--at", "throtle=1"], "did you mean 'throttle'"),
        (["--output", "left_frnt"], "did you mean 'left_front'"),
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


def test_a_table_too_wide_cuts_no_name(capsys: pytest.CaptureFixture[str]) -> None:
    """Two long names that differ at their ends do so on paper, and no number is cut."""
    names = ["a" * 38 + "_l", "a" * 38 + "_r"]
    Console().table(
        ["output", *["some value>"] * 9], [[name, *[f"{n}34.5 ms" for n in range(9)]] for name in names]
    )
    out = capsys.readouterr().out
    assert "…" not in out
    assert all(piece in out for piece in ("_l", "_r", "834.5 ms"))


def test_a_table_of_figures_too_wide_is_parted(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No word of it breaks and no figure is cut: its columns go into several tables, names repeated."""
    monkeypatch.setattr("mixer.cli.shared.console.PIPE_WIDTH", 40)
    heads = [f"figure_{number:02d}" for number in range(9)]
    Console().table(["what", *(f"{head}>" for head in heads)], [["run-0001", *heads], ["run-0002", *heads]])
    lines = capsys.readouterr().out.splitlines()
    begun = [sum(line.startswith(f"{name} ") for line in lines) for name in ("what", "run-0002")]
    assert max(map(len, lines)) <= 40
    assert sum(line.split().count("figure_07") for line in lines) == 3
    assert begun[0] == begun[1] > 1


@pytest.mark.parametrize(
    "kinds", ["", ">", "<", "<<<", ">>>", "<>", "<<>>", "<><", "><>", "<>>>>>>", "<<<<<<"]
)
@pytest.mark.parametrize("width", [12, 40, 200])
def test_no_table_loses_a_cell(
    kinds: str, width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Words (<) and figures (>) in any order, at any width: everything that was to be shown is shown."""
    monkeypatch.setattr("mixer.cli.shared.console.PIPE_WIDTH", width)
    heads = [f"h{k}{'>' if kind == '>' else ''}" for k, kind in enumerate(kinds)]
    rows = [
        [f"{row}-{k} w" if kind == "<" else f"{row}{k}" for k, kind in enumerate(kinds)] for row in "ab"
    ]
    Console().table(heads, rows)
    out = capsys.readouterr().out
    room = width > 12  # below that words are broken, which loses nothing either
    shown = [part for row in rows for cell in row for part in cell.split()] if room else []
    assert [part for part in shown if part not in out.split()] == []
    assert bool(out.strip()) == bool(kinds)
