"""`--engine board` as a user meets it: verdicts, differences, refusals."""

from pathlib import Path

import pytest

from mixer.core.rest import resting_pulses
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
    told = said.out.replace("\n", " ")
    assert f"no difference. {board['pulses_read']} pulses read within 1 µs" in told
    assert "seen on the pins of 2 outputs within 1 µs or one count" in told


@pytest.mark.parametrize("name", [pytest.param("tank", marks=AVR)])
def test_the_robot_moves_as_the_pins_say(run: Run, drive: Path, tmp_path: Path, name: str) -> None:
    """Physics, drawing, every tick: the core's, but for 1 µs of reading and a servo's 20 ms."""
    core = run("replay", TANK, drive, "--physics", "--json")
    words = ["--physics", "--plot", tmp_path / "drive.svg", "-o", tmp_path / "ticks.csv"]
    ran = run("replay", TANK, drive, "--engine", "board", *words, "--json")
    board, mine, its = ran.data["on_board"], ran.data["physics"], core.data["physics"]

    assert ran.code == 0, ran.err
    assert board["equal"]
    assert board["ticks"] == ran.data["ticks"] == core.data["ticks"]
    assert "moves as its pins say" in ran.err
    for key in ("distance_m", "top_speed_mps", "peak_a", "charge_ah"):
        assert mine[key] == pytest.approx(its[key], rel=0.1), key
    assert mine != its
    assert "<svg" in (tmp_path / "drive.svg").read_text()
    assert len((tmp_path / "ticks.csv").read_text().splitlines()) == board["ticks"] + 1


@pytest.mark.parametrize(
    ("key", "name"),
    [
        pytest.param("reset@1", "tank", marks=AVR),
        *(
            pytest.param(key, "tank", marks=[*AVR, pytest.mark.long])
            for key in ("all-lost@1", "overrun.once@1", "hang.64@1", "power-up@1", "burst.60@1")
        ),
    ],
)
def test_a_fault_in_a_log_is_one_at_the_pins(run: Run, drive: Path, key: str, name: str) -> None:
    """Image and core meet it alike, with a body or without, and end as the core alone does."""
    core = run("replay", TANK, drive, "--fault", key, "--json")
    ran = run("replay", TANK, drive, "--fault", key, "--engine", "board", "--json")
    moved = run("replay", TANK, drive, "--fault", key, "--engine", "board", "--physics", "--json")

    for each in (ran, moved):
        assert each.code == 0, each.data["on_board"]
        assert each.data["on_board"]["equal"]
        assert each.data["ticks"] == core.data["ticks"]
        assert [turn["after"] for turn in each.data["guard"]["transitions"]][:2] == ["resting", "live"]
        last = (data["guard"]["transitions"][-1]["after"] for data in (each.data, core.data))
        assert len(set(last)) == 1


@pytest.mark.parametrize("name", [pytest.param("carrier", marks=[*ARM, pytest.mark.long])])
def test_end_stops_that_the_robot_presses_are_at_the_pins(run: Run, tmp_path: Path, name: str) -> None:
    """Both trays out to their ends and back: the image stops them where the core does, to a few ticks."""
    plan = load_profile(CARRIER).plan()
    columns = [channel.name for channel in plan.channels]
    rest = dict(zip(columns, resting_pulses(plan, armed=True), strict=True))
    rows = [f"t_ms,{','.join(columns)}"]
    for at_ms in range(0, 14_000, 20):
        pulses = dict(rest)
        pulses["arm"] = rest["arm"] if at_ms > 400 else 1000
        pulses["tip"] = 2000 if 1200 < at_ms < 9000 else 1000 if at_ms > 9200 else rest["tip"]
        rows.append(f"{at_ms},{','.join(str(pulses[column]) for column in columns)}")
    log = tmp_path / "tip.csv"
    log.write_text("\n".join(rows) + "\n", encoding="utf-8")
    core = run("replay", CARRIER, log, "--physics", "--json")
    ran = run("replay", CARRIER, log, "--engine", "board", "--physics", "--json")

    assert ran.code == 0, ran.data["on_board"]
    assert ran.data["on_board"]["equal"]
    for mine, its in zip(ran.data["actuators"], core.data["actuators"], strict=True):
        assert its["vetoed_s"] > 0.5
        assert mine["vetoed_s"] == pytest.approx(its["vetoed_s"], abs=0.02)
        assert its["in_blocked_s"] > 1
        assert mine["in_blocked_s"] == pytest.approx(its["in_blocked_s"], abs=0.02)


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
        (
            ["--engine", "board", "--fault", "fast-clock.10"],
            "No simulated chip here can have its clock turned",
        ),
        (["--engine", "board", "--fault", "rust"], "this robot has no fault 'rust'"),
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


@pytest.mark.parametrize("words", [[], ["--physics"], ["--fault", "reset"]])
def test_a_log_from_the_middle_has_no_board(run: Run, drive: Path, words: list[str]) -> None:
    """No chip can be put into a state."""
    Path(f"{drive}.start.json").write_text('{"guard.state": 2}', encoding="utf-8")
    ran = run("replay", TANK, drive, "--engine", "board", *words)
    assert ran.code == 2
    assert "a chip begins at power-up alone" in ran.err


@pytest.mark.parametrize("words", [pytest.param(each, marks=AVR) for each in ([], ["--physics"])])
def test_a_log_that_no_wire_carries_is_refused(run: Run, tmp_path: Path, words: list[str]) -> None:
    """Two pulses of a channel that overlap: nothing is shortened in silence."""
    log = tmp_path / "overlap.csv"
    rows = [f"{at},1500,{2200 if at == 62 else 1500},1500" for at in (0, 20, 40, 60, 62, 80, 100)]
    log.write_text("t_ms,steering,throttle,arm\n" + "\n".join(rows) + "\n", encoding="utf-8")
    ran = run("replay", TANK, log, "--engine", "board", *words)
    broken = run("replay", TANK, log, "--engine", "board", *words, "--fault", "all-lost@0.09")

    assert ran.code == 2
    assert "would begin before the one before it has ended" in ran.err
    assert broken.code == 0
    assert "pulses that no wire carries, and that were left out or shortened: 1" in broken.err


def test_a_missing_tool_is_named_with_what_to_install(
    run: Run, drive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No compiler for the board: exit 2, and how to get one."""
    monkeypatch.setenv("STICKWRIGHT_AVR_CC", "no-such-compiler")
    ran = run("replay", TANK, drive, "--engine", "board")
    assert ran.code == 2
    assert "apt-get install gcc-avr avr-libc" in ran.err
