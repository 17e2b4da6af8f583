"""`--engine board` as a user meets it: verdicts, differences, refusals."""

from pathlib import Path

import pytest

from mixer.profile.profile import load_profile
from tests.board.engine.drives import short_drive
from tests.cli.conftest import CARRIER, TANK, Run

AVR = [pytest.mark.needs_tool("avr-gcc"), pytest.mark.needs_tool("simavr"), pytest.mark.needs_tool("gcc")]
ARM = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]


@pytest.fixture
def drive(tmp_path: Path) -> Path:
    """A short drive of the tank as a log."""
    plan = load_profile(TANK).plan()
    lines = ["t_ms," + ",".join(channel.name for channel in plan.channels)]
    for number, row in enumerate(short_drive(plan, 30)):
        if any(row):
            lines.append(
                f"{number * plan.tick_ms}," + ",".join(str(pulse) if pulse else "" for pulse in row)
            )
    path = tmp_path / "drive.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("name", [pytest.param("tank", marks=AVR)])
def test_a_replay_on_the_board_says_the_same_and_what_that_rests_on(
    run: Run, drive: Path, name: str
) -> None:
    """The same summary as the core's, and a verdict with its numbers."""
    core = run("replay", TANK, drive, "--json")
    ran = run("replay", TANK, drive, "--engine", "board", "--json")
    said = run("replay", TANK, drive, "--engine", "board")

    assert ran.code == said.code == core.code == 0, ran.err
    assert ran.err.count("note: engine: ") == 1
    assert "no measurement on silicon" in ran.err
    board = ran.data["on_board"]
    for key in ("ticks", "guard", "channels"):
        assert ran.data[key] == core.data[key]
    for mine, its in zip(ran.data["outputs"], core.data["outputs"], strict=True):
        assert mine["mean"] == pytest.approx(its["mean"], abs=0.002), "it reads within 1 µs"
    assert board["board"] == "atmega328p"
    assert board["equal"]
    assert board["ticks"] == ran.data["ticks"]
    assert f"no difference. {board['pulses_read']} pulses read within 1 µs" in said.out.replace("\n", " ")


@pytest.mark.parametrize("name", [pytest.param("carrier", marks=ARM)])
def test_a_drive_at_full_duty_on_the_larger_board(run: Run, rough: Path, name: str) -> None:
    """Single pulses missing, duties from nothing to all of the period."""
    rough.write_text("".join(rough.read_text().splitlines(keepends=True)[:230]))
    ran = run("replay", CARRIER, rough, "--engine", "board", "--json")
    board = ran.data["on_board"]

    assert ran.code == 0, board
    assert board["board"] == "rp2040"
    assert board["ticks"] == ran.data["ticks"] > 2200
    assert board["pulses_shown"] > 60_000


@pytest.mark.parametrize("name", [pytest.param("tank", marks=AVR)])
def test_compare_runs_both_images(run: Run, drive: Path, tmp_path: Path, name: str) -> None:
    """Two tunings on their own images differ by the tuning alone; equal ones are equal on the board."""
    other = tmp_path / "other.toml"
    text = TANK.read_text(encoding="utf-8")
    other.write_text(text.replace("expo = 0.3", "expo = 0.5"), encoding="utf-8")
    same = run("compare", TANK, TANK, drive, "--engine", "board", "--json")
    apart = run("compare", TANK, other, drive, "--engine", "board", "--no-why", "--json")

    assert same.code == 0
    assert apart.code == 1
    assert same.data["on_board_a"]["equal"]
    assert apart.data["on_board_b"]["equal"]
    assert not apart.data["equal"]
    assert apart.data["on_board_a"]["fingerprint"] != apart.data["on_board_b"]["fingerprint"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--board", "rp2040"], "--board rp2040 is for the image alone"),
        (["--engine", "board", "--board", "abacus"], "there is no board 'abacus'"),
        (["--engine", "board", "--physics"], "--physics and --plot press end stops"),
        (["--engine", "steam"], "there is no engine 'steam'"),
    ],
)
def test_what_does_not_go_together_is_refused(run: Run, drive: Path, words: list[str], said: str) -> None:
    """Before anything is built."""
    ran = run("replay", TANK, drive, *words)
    assert ran.code == 2
    assert said in ran.err
    assert "remedy: " in ran.err


def test_a_command_without_boards_has_no_such_engine(run: Run, drive: Path) -> None:
    """Nothing quietly runs another engine than was asked for."""
    ran = run("review", TANK, drive, "--engine", "board")
    assert ran.code == 2
    assert "there is no engine 'board'" in ran.err


def test_a_log_from_the_middle_has_no_board(run: Run, drive: Path) -> None:
    """No chip can be put into a state."""
    Path(f"{drive}.start.json").write_text('{"guard.state": 2}', encoding="utf-8")
    ran = run("replay", TANK, drive, "--engine", "board")
    assert ran.code == 2
    assert "a chip begins at power-up alone" in ran.err


def test_a_missing_tool_is_named_with_what_to_install(
    run: Run, drive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No compiler for the board: exit 2, and how to get one."""
    monkeypatch.setenv("STICKWRIGHT_AVR_CC", "no-such-compiler")
    ran = run("replay", TANK, drive, "--engine", "board")
    assert ran.code == 2
    assert "apt-get install gcc-avr avr-libc" in ran.err
