"""A review of the recorded drives that come with the project, counted a second time here."""

import json
import shlex
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mixer.cli.main import main
from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard
from mixer.live.bench.session import open_session
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import LiveRobot, build_of
from mixer.profile.journal import note
from mixer.profile.profile import load_profile
from mixer.review.drive import DriveReview, Reviewer
from mixer.review.moments import BEFORE_S, MOST_MOMENTS, Place
from mixer.review.side import side_by_side
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import make_engine

CARRIER = Path("profiles/sample_carrier.toml").resolve()
ROUGH = CARRIER.parent / "logs" / "carrier_rough_ground.csv"
LOADS = CARRIER.parent / "logs" / "carrier_two_loads.csv"


@lru_cache(maxsize=4)
def reviewed(log: Path, chunk: int = 4096) -> tuple[DriveReview, dict[str, Any]]:
    """The review of a drive of the carrier, fed in stretches of so many ticks, and its series."""
    build = build_of(load_profile(CARRIER))
    robot = LiveRobot(build, PlainBoard(build.plan), bodiless=True)
    reviewer = Reviewer(build, robot)
    inputs = DriveLog(build.plan, log).inputs()
    for first in range(0, len(inputs), chunk):
        robot.take(inputs[first : first + chunk])
    place = Place(CARRIER, log)
    return reviewer.review(place, "0123456789ab", None), reviewer.timeline.points()


@lru_cache(maxsize=1)
def rough_signals() -> Any:  # noqa: ANN401  columns by their fields
    """Every signal of the rough drive, straight from an engine."""
    plan = load_profile(CARRIER).plan()
    rows = make_engine("python", plan).run(DriveLog(plan, ROUGH).inputs())
    return layout_of(plan).signals_of(list(rows.T))


def test_sticks_are_what_the_signals_say() -> None:
    """Shares in deadband, at full and at each shape are those of a count over all live ticks at once."""
    review, told = reviewed(ROUGH)[0], rough_signals()
    live = told.guard.state == Guard.LIVE
    for number, stick in enumerate(review.sticks):
        scaled, banded = told.sticks[number].scaled[live], told.sticks[number].banded[live]
        assert stick.live_s == pytest.approx(live.sum() * 0.002)
        assert stick.in_deadband == pytest.approx((banded == 0).mean())
        assert stick.at_full == pytest.approx((abs(scaled) == ONE).mean())
        assert stick.mean_size == pytest.approx(abs(scaled).mean() / ONE)
        bins, _ = np.histogram(scaled, bins=np.linspace(-ONE, ONE + 1, 42))
        assert stick.histogram == pytest.approx(tuple(bins / live.sum()))
        assert sum(stick.histogram) == pytest.approx(1)
        assert sum(use.share for use in stick.shapes) == pytest.approx(1)
    position = told.switches[1].position[live]
    assert [use.share for use in review.sticks[0].shapes] == pytest.approx(
        [(position == n).mean() for n in range(3)]
    )


def test_every_second_is_live_or_explained() -> None:
    """Live time, pauses and what was waited for add up to the drive; both losses and both gaps are told."""
    review = reviewed(ROUGH)[0]
    rest = review.drive.duration_s - review.live_s
    assert sum(pause.lasted_s for pause in review.pauses) == pytest.approx(rest)
    assert sum(review.waited_s.values()) == pytest.approx(rest)
    assert [pause.began for pause in review.pauses] == ["not live", "stopped", "stopped", "disarmed"]
    assert review.pauses[2].why == "no signal on throttle"
    longest = {c.name: c.longest_gap_ms for c in review.drive.channels}
    found = max((g for g in review.gaps if "throttle" in g.channels), key=lambda gap: gap.lasted_s)
    assert found.lasted_s * 1000 == pytest.approx(longest["throttle"])
    assert [gap.lost for gap in review.gaps] == [True, True, False]


def test_cuts_make_no_difference() -> None:
    """A log fed in uneven stretches gives the same review and the same series."""
    (one, series), (other, others) = reviewed(ROUGH), reviewed(ROUGH, 777)
    assert one.sticks == other.sticks
    assert (one.pauses, one.gaps, one.waited_s) == (other.pauses, other.gaps, other.waited_s)
    assert one.moments == other.moments
    assert one.drive == other.drive
    for name, values in series.items():
        assert values == pytest.approx(others[name])


def test_reversals_are_counted() -> None:
    """An output's reversals are its changes of sign, rests at zero left out."""
    told = rough_signals()
    for output, measured in zip(told.outputs, reviewed(ROUGH)[0].drive.outputs, strict=True):
        ways = np.sign(output.command[output.command != 0])
        assert measured.reversals == np.count_nonzero(np.diff(ways))


def test_moments_are_few_of_different_kinds_and_their_commands_run(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Five at most; each explanation runs and tells that moment's state, each bench opens before it."""
    for log in (ROUGH, LOADS):
        moments = reviewed(log)[0].moments
        assert len(moments) == MOST_MOMENTS
        assert [m.at_s for m in moments] == sorted(m.at_s for m in moments)
        assert len({m.kind for m in moments}) >= 3
        for moment in moments:
            assert main([*shlex.split(moment.explain)[1:], "--json"]) == 0
            explained = json.loads(capsys.readouterr().out)
            assert (explained["guard"] == "live") is (moment.kind != "loss")
    first = reviewed(ROUGH)[0].moments[0]
    words = shlex.split(first.bench)
    assert words[:3] == ["stickwright", "bench", str(CARRIER)]
    session = open_session(CARRIER, now_s=0.0)
    session.open_log(Path(words[4]), at_s=float(words[6]))
    assert session.replay is not None
    assert session.replay.position_s == pytest.approx(first.at_s - BEFORE_S)
    session.close()


def test_a_log_says_what_it_was_recorded_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A log with a loadout's fingerprint is played in that loadout; one of another tuning is told."""
    profile = load_profile(CARRIER)
    lines = LOADS.read_text(encoding="utf-8").splitlines()[:400]
    bare, other = tmp_path / "bare.csv", tmp_path / "other.csv"
    mark = profile.fingerprint("bare")
    bare.write_text("\r\n".join([f'# tuning: "{mark}"', *lines]), encoding="utf-8")
    other.write_text("\r\n".join(['# tuning: "0123456789ab"', *lines]), encoding="utf-8")
    assert main(["review", str(CARRIER), str(bare), str(other), "--json"]) == 0
    out, err = capsys.readouterr()
    drives = json.loads(out)["drives"]
    assert [drive["fingerprint"] for drive in drives] == [mark, profile.fingerprint()]
    assert drives[1]["recorded_with"] == "0123456789ab"
    assert "other.csv was recorded with 0123456789ab" in err
    assert "bare.csv was recorded" not in err
    assert "comment" not in err


def test_several_stand_side_by_side() -> None:
    """One row a question with an answer of each drive; a robot without a stick has none there."""
    a, b = reviewed(ROUGH)[0], reviewed(LOADS)[0]
    table = {row.what: row.answers for row in side_by_side([a, b])}
    assert table["losses of signal"] == ("2", "0")
    assert all(len(answers) == 2 for answers in table.values())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([str(LOADS)], "before any profile"),
        ([str(CARRIER)], "no log"),
        ([str(CARRIER), *[str(LOADS)] * 13], "too many"),
    ],
)
def test_what_cannot_be_reviewed_is_refused(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With what is missing, before anything is played."""
    assert main(["review", *words]) == 2
    assert said in capsys.readouterr().err


def test_the_journal_beside_the_profile_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was changed between drives stands with them, once for each profile."""
    profile, log = tmp_path / "carrier.toml", tmp_path / "drive.csv"
    profile.write_text(CARRIER.read_text(encoding="utf-8"), encoding="utf-8")
    log.write_text("\n".join(LOADS.read_text(encoding="utf-8").splitlines()[:300]), encoding="utf-8")
    note(profile, "0123456789ab", "softer expo for the second drive")
    assert main(["review", "-q", str(profile), str(log), str(log)]) == 0
    told = capsys.readouterr().out
    assert told.count("softer expo for the second drive") == 1
    assert f"journal of {profile}" in told
