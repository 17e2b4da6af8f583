"""`stickwright course`: runs measured again from their logs, compared or refused."""

import json
from pathlib import Path

import pytest

from mixer.cli.main import main
from mixer.course.keep.again import kept_run
from mixer.errors import LogError
from tests.course.driven import drive, task_for, text_of

TANK = text_of("tank_pair")
STIFF = TANK.replace("expo = 0.3", "expo = 0.3\nrate = 0.6")


def test_a_log_gives_the_measures_that_were_seen(tmp_path: Path) -> None:
    """Driven again from its log a run measures the same to the bit, for any stretches it came in."""
    log = tmp_path / "turn-0001.csv"
    lap = drive(TANK, task_for("tank_pair", "turn"), 7, log=log)
    assert kept_run(log).measures == lap.measures()
    assert main(["replay", str(tmp_path / kept_run(log).card.profile), str(log), "-q"]) == 0


def runs_of(folder: Path, pairs: int) -> list[str]:
    """Logs of half turns, as a blind comparison deals them."""
    task, logs = task_for("tank_pair", "turn"), []
    for pair in range(pairs):
        for side, text in (("A", TANK), ("B", STIFF)):
            logs.append(str(folder / f"turn-{len(logs):04d}.csv"))
            log = Path(logs[-1])
            drive(text, task, len(logs), knows=TANK, log=log, side=side, study="s", pair=pair)
    return logs


def test_one_pair_tells_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """However far apart two runs are: no difference is told, and that more are needed."""
    assert main(["course", *runs_of(tmp_path, 1), "-q"]) == 0
    assert "no difference to be seen in 2 runs; one of 5% in time takes more" in capsys.readouterr().out


@pytest.mark.long
def test_two_tunings_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Six pairs with much less rate on one side: it is said to be slower, in whatever order logs come."""
    logs = runs_of(tmp_path, 6)
    assert main(["course", *logs, "--json", "-q"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["verdict"].startswith("B is ")
    assert "s slower (" in document["verdict"]
    assert document["blind"]
    assert main(["course", *reversed(logs), "-q"]) == 0
    assert document["verdict"] in capsys.readouterr().out


def test_runs_that_cannot_be_compared_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another driver, another robot, and a tuning that has changed since: each is named."""
    task = task_for("tank_pair", "turn")
    first, second, heavy = (tmp_path / f"{name}.csv" for name in ("first", "second", "heavy"))
    drive(TANK, task, 1, log=first)
    drive(TANK, task, 2, log=second, driver="Ben")
    drive(TANK.replace("mass_kg = 1.35", "mass_kg = 1.45"), task, 2, log=heavy)
    twice = (second, "different drivers"), (heavy, "different robots"), (first, "the same run as")
    for other, words in twice:
        assert main(["course", str(first), str(other), "-q"]) == 2
        assert words in capsys.readouterr().err
    beside = tmp_path / kept_run(first).card.profile
    beside.write_text(TANK.replace("expo = 0.3", "expo = 0.31"), encoding="utf-8")
    with pytest.raises(LogError, match="has changed since"):
        kept_run(first)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "says of no task"),
        ('# task: "slalom"\n', "cannot be used"),
        ('# task: {"a": 1}\n# reach_m: "x"\n', "reach_m"),
    ],
)
def test_a_log_from_elsewhere_is_refused(tmp_path: Path, line: str, words: str) -> None:
    """A log that no course wrote, or whose card has been mangled, with file and key."""
    log = tmp_path / "drive.csv"
    log.write_text(f"{line}t_ms,throttle\n0,1500\n", encoding="utf-8")
    with pytest.raises(LogError, match=words):
        kept_run(log)
