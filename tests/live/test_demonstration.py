"""The demonstration: any robot drives by itself, stops when its radio breaks, and leaves nothing behind."""

from pathlib import Path

import pytest

from mixer.laws.expect import loss_ms
from mixer.live.bench.demonstration import Demonstration, Part, Scene
from mixer.live.inputs.manoeuvre import AHEAD, ASIDE, SCREW, TURN, Manoeuvre, moved, use_of
from tests.lengths import cases
from tests.live.benches import FRAME_S, Bench

BARE = """
[robot]
name = "bare"
tick_ms = 10
[stick.left]
receiver = 1
[stick.right]
receiver = 2
[output.left]
pin = 1
mix = { left = 1.0 }
[output.right]
pin = 2
mix = { right = 1.0 }
"""
"""No physics and no arm switch: it goes live by resting at neutral."""


def bench_of(folder: Path, name: str) -> Bench:
    """A bench of an example robot, or of `BARE`."""
    if name == "bare":
        (folder / "bare.toml").write_text(BARE)
    return Bench(folder, name)


def gone_through(bench: Bench) -> tuple[Demonstration, list[Scene]]:
    """A whole demonstration, and what was said in each of its pictures."""
    shown = Demonstration(bench.session, bench.now_s)
    scenes = []
    while not shown.over:
        bench.now_s += FRAME_S
        view = shown.session.advance(bench.now_s)
        assert not view.rules
        scenes.append(shown.scene())
    return shown, scenes


@pytest.mark.parametrize(
    "name", cases(["bare", "tank_pair"], ["sample_carrier", "holonomic_trio", "long_crawler"])
)
def test_it_drives_stops_in_time_and_says_why(tmp_path: Path, name: str) -> None:
    """All parts in order within eleven seconds; it stops as promised and does not start by itself."""
    shown, scenes = gone_through(bench_of(tmp_path, name))

    parts = [scene.part for scene in scenes]
    assert parts == sorted(parts)
    assert set(parts) == set(Part)
    assert [scene.title for scene in scenes if scene.part is Part.DRIVE][-1] == "it drives"
    stop = shown._stop
    assert stop.told_ms is not None
    assert stop.told_ms <= loss_ms(shown.session.robot.plan)
    assert any("The gate says: no signal on" in scene.words for scene in scenes)
    assert scenes[-1].title == "the radio is back"
    assert "nothing starts" in scenes[-1].words
    assert shown.session.robot.time_s < 11
    if shown.session.snapshot().physics is not None:
        assert stop.stood_ms is not None
        assert stop.way_m > 0


def test_nothing_of_the_session_beside_it_has_changed(tmp_path: Path) -> None:
    """Robot, sticks, source, faults, tuning, events and files are the same before and after."""
    bench = bench_of(tmp_path, "tank_pair")
    session = bench.session
    bench.arm()
    session.tuning.set("stick.throttle.trim", 0.01)
    session.sticks.set("throttle", 0.4)
    session.faults.inject("frozen.steering")
    bench.run(0.3)
    before = session.snapshot(), session.robot.saved, session.sticks.value("throttle")
    files = sorted(tmp_path.iterdir())

    gone_through(bench)

    assert (session.snapshot(), session.robot.saved, session.sticks.value("throttle")) == before
    assert sorted(tmp_path.iterdir()) == files


def test_one_that_cannot_go_live_is_not_said_to_drive(tmp_path: Path) -> None:
    """A robot whose trim keeps it from neutral stands still, and the caption says what is wrong."""
    path = tmp_path / "bare.toml"
    path.write_text(
        BARE.replace("[stick.right]", "[stick.right]\ntrim = 0.2\nlow_us = 1500\ncentre_us = 1500")
    )
    _, scenes = gone_through(Bench(tmp_path, "bare"))

    said = {scene.title for scene in scenes}
    assert "it drives" not in said
    assert "it does not drive" in said


def test_sticks_are_used_for_what_they_do(tmp_path: Path) -> None:
    """By the wheels' angles where they are known, else by signs; a robot of three wheels has all three."""
    trio = bench_of(tmp_path, "holonomic_trio").session
    wheels = trio.snapshot().physics.wheels
    plan = trio.robot.plan
    uses = {stick.name: use_of(plan, number, wheels)[0] for number, stick in enumerate(plan.sticks)}
    assert uses == {"sideways": ASIDE, "ahead": AHEAD, "turn": TURN}
    plan = bench_of(tmp_path, "sample_carrier").session.robot.plan
    assert [use_of(plan, number, ())[0] for number in range(3)] == [TURN, AHEAD, SCREW]


def test_it_begins_at_rest_and_turns_as_much_to_either_side() -> None:
    """The first moment moves nothing; turns add up to nothing over the drive, so that it ends straight."""
    for use in (AHEAD, TURN, ASIDE, SCREW):
        assert moved(use, 0.0, 4.0) == 0.0
        assert all(abs(moved(use, at / 10, 4.0)) <= 1 for at in range(60))
    assert sum(moved(TURN, at / 100, 4.0) for at in range(401)) == pytest.approx(0.0, abs=1e-9)


def test_the_radio_is_told_once_in_the_very_tick(tmp_path: Path) -> None:
    """It breaks and comes back in the ticks that the times name, counted from the first that is asked."""
    session = bench_of(tmp_path, "bare").session
    plan, told = session.robot.plan, []
    drive = Manoeuvre(plan, session.sticks, (), lambda tick, there: told.append((tick, there)))
    for tick in range(100, 100 + round(drive.times.end_s * 100)):
        drive.inputs(tick, [])
    ticks = [100 + round(at * 100) for at in (drive.times.break_s, drive.times.back_s)]
    assert told == [(ticks[0], False), (ticks[1], True)]
