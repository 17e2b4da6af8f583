"""The front door for programs, as somebody who has only read README uses it."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

import mixer
from mixer.core.plan import Guard
from mixer.live.views.status import EventView
from mixer.profile.exported import export_with, exported_of
from mixer.runs.play.stretch import Stretch

ROOT = Path(__file__).parents[1]
TANK = ROOT / "profiles" / "tank_pair.toml"
CARRIER = ROOT / "profiles" / "sample_carrier.toml"


@pytest.mark.needs_tool("z3")
def test_what_readme_shows_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The lines in README, as they stand there, in a folder with the example profiles and a drive."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (shown,) = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    (tmp_path / "profiles").symlink_to(ROOT / "profiles")
    rows = [f"{n * 0.02:.2f},1500,1500,{1000 if n < 50 else 2000}" for n in range(200)]
    (tmp_path / "drive.csv").write_text("\n".join(["Time,steering,throttle,arm", *rows]) + "\n")
    monkeypatch.chdir(tmp_path)
    exec(compile(shown, "README.md", "exec"), {})
    said = capsys.readouterr().out
    assert "guard: resting -> live" in said
    assert "2000 LIVE 0.8" in said
    assert {path.name for path in (tmp_path / "firmware" / "mix").iterdir()} >= {
        "mix.c",
        "mix.h",
        "vectors.csv",
    }


def test_the_door_costs_nothing_until_it_is_opened() -> None:
    """`import mixer` loads no numpy, no pydantic and none of the house."""
    code = "import mixer, sys; print(*sorted(name.split('.')[0] for name in sys.modules))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert not {"numpy", "pydantic", "textual"} & set(loaded.stdout.split())
    with pytest.raises(AttributeError, match="no attribute 'lod'"):
        mixer.lod  # noqa: B018
    for package in ("mixer", "tui"):
        assert (ROOT / package / "py.typed").exists()


def test_pulses_tick_by_tick() -> None:
    """Armed by pulses alone it goes live; a named signal is what the firmware gave; silence stops it."""
    robot = mixer.load(TANK)
    events: list[EventView] = []
    robot.subscribe(events.append)
    for armed in (1000, 2000):
        for number in range(500):
            frame = {"steering": 1500, "throttle": 1500, "arm": armed}
            robot.tick(frame if number % 10 == 0 else {})
    assert robot.guard is Guard.LIVE
    robot.tick({"steering": 1500, "throttle": 2000, "arm": 2000})
    assert robot["channel.throttle.pulse"] == 2000
    for _ in range(500):
        robot.tick({})
    assert robot.guard is Guard.STOPPED
    assert robot["output.left.command"] == 0
    assert robot.time_s == pytest.approx(1501 * 0.002)
    assert [event.words for event in events if event.kind == "signal"][-1].startswith("no signal on ")


def test_contacts_are_given_or_pressed_by_the_physics() -> None:
    """A closed end stop blocks its direction; with physics the nut presses it by itself."""
    robot = mixer.load(CARRIER)
    robot.arm()
    robot.tick({}, {"left_out": True})
    assert robot["contact.left_out.closed"] == 1
    assert robot["actuator.tray_left.high"] == 0
    real = mixer.load(CARRIER, physics=True)
    assert real.physics is not None
    assert real["contact.left_in.closed"] == 1
    assert robot.physics is None


def test_sticks_and_switches_as_on_a_radio() -> None:
    """Sticks by share, switches by the name of a position; they stay where they were put."""
    robot = mixer.load(CARRIER)
    stretches: list[Stretch] = []

    class Keeps:
        """A sink."""

        def add(self, stretch: Stretch) -> None:
            """Keep it."""
            stretches.append(stretch)

    robot.listen(Keeps())
    assert robot.arm()
    robot.drive(0.3, throttle=0.5, pace="dash")
    slow = robot["output.left_front.command"]
    robot.drive(0.3, throttle=1.0)
    assert robot["output.left_front.command"] > slow > 0
    assert stretches[-1].first_tick + len(stretches[-1].inputs) == round(robot.time_s / 0.002)
    robot.drive(0.3, arm="off")
    assert robot.guard is Guard.RESTING
    robot.power_up()
    assert robot.guard is Guard.SEARCHING


def test_what_does_not_exist_is_told_with_a_remedy(tmp_path: Path) -> None:
    """Every mistake is one kind of error, with what would be right."""
    robot = mixer.load(TANK)
    wrong = (
        lambda: robot["output.lft.wire"],
        lambda: robot.tick({"thottle": 1500}),
        lambda: robot.tick({}, {"stop": True}),
        lambda: robot.drive(0.1, throtle=1.0),
        lambda: robot.drive(0.1, arm="maybe"),
        lambda: mixer.load(TANK, "racing"),
        lambda: mixer.load(tmp_path / "none.toml"),
        lambda: robot.replay(tmp_path / "none.csv"),
    )
    for call in wrong:
        with pytest.raises(mixer.StickwrightError) as raised:
            call()
        assert "remedy: " in str(raised.value)


def test_an_export_never_replaces_a_stranger_s_file(tmp_path: Path) -> None:
    """Its own files it renews."""
    robot = mixer.load(TANK)
    assert robot.export(tmp_path / "mix") == robot.export(tmp_path / "mix")
    whole = robot.export(tmp_path / "board", board="rp2040")
    assert {"main.c", "wiring.h", "mix.c", "Makefile"} <= {path.name for path in whole}
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "mix.c").write_text("precious")
    with pytest.raises(mixer.StickwrightError):
        robot.export(tmp_path / "mine")
    assert (tmp_path / "mine" / "mix.c").read_text() == "precious"


def test_an_export_is_kept_for_the_day_a_board_tells_its_fingerprint(tmp_path: Path) -> None:
    """Beside a robot of one's own; where nothing can be written there, the export is made all the same."""
    mine = tmp_path / "mine.toml"
    mine.write_text(TANK.read_text(encoding="utf-8"), encoding="utf-8")
    mixer.load(mine).export(tmp_path / "mix")
    assert export_with(mine, mixer.load(mine).profile.fingerprint()) is not None
    exported_of(mine).unlink()
    exported_of(mine).symlink_to("/dev/full")
    assert mixer.load(mine).export(tmp_path / "again")
