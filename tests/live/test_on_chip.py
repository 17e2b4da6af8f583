"""The bench with the robot's own image under it."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.board.engine.flashed import flash
from mixer.board.wiring.divider import full_pack_v
from mixer.errors import OptionError
from mixer.live.bench.on_chip import ChipLink
from tests.board.engine.drives import with_outputs_swapped
from tests.live.benches import ROOT, Bench

AVR = [pytest.mark.needs_tool("avr-gcc"), pytest.mark.needs_tool("simavr"), pytest.mark.needs_tool("gcc")]
ARM = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]


def mounted(folder: Path, robot: str) -> tuple[Bench, ChipLink]:
    """A bench on its robot's image."""
    bench = Bench(folder, robot)
    bench.session.image.mount(flash(bench.session.tuning.profile, None))
    bench.session.power_up()
    assert bench.session.image.chip is not None
    return bench, bench.session.image.chip


@pytest.mark.parametrize(
    "robot",
    [pytest.param("tank_pair", marks=AVR), pytest.param("sample_carrier", marks=[*ARM, pytest.mark.long])],
)
def test_hands_move_the_pins_and_the_image_does_what_the_core_does(tmp_path: Path, robot: str) -> None:
    """Armed and driven by hand: live, equal in every tick, a little behind the hands."""
    bench, chip = mounted(tmp_path, robot)
    bench.arm()
    bench.session.sticks.set("throttle", 0.8)
    snapshot = bench.run(0.6)
    bench.session.close()

    board = snapshot.link.board
    assert snapshot.guard.state == "live"
    assert max(abs(output.command) for output in snapshot.outputs) > 0.3
    assert snapshot.link.state == "chip"
    assert board.runs == "this"
    assert board.compared > 1000
    assert (board.differing, board.first, board.waits) == (0, "", "")
    assert 5 < chip.late_ms < 30
    assert chip.account().pulses_shown > 100


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_what_a_chip_cannot_follow_is_told_until_it_is_off_and_on(tmp_path: Path, robot: str) -> None:
    """Another tuning is not on the chip: nothing is compared, and why is said."""
    bench, _ = mounted(tmp_path, robot)
    whole = bench.run(0.5).link.board
    bench.session.tuning.set("shape.soft.expo", 0.5)
    tuned = bench.run(0.3).link.board
    bench.session.close()

    assert (whole.waits, whole.runs) == ("", "this")
    assert whole.compared > 200
    assert tuned.runs == "other"
    assert "another is in use" in tuned.waits
    assert tuned.differing == 0
    assert tuned.compared < whole.compared + 10


STAYS, STOPS, ANEW = "live", "stopped", "resting"
ON_THE_TANK = {
    "all-lost": STOPS, "channel-lost.throttle": STOPS, "too-long.steering": STOPS, "just-above.arm": STOPS,
    "burst.60": ANEW, "flicker.30": STAYS, "jitter": STAYS, "doubled": STAYS, "faster.4": STAYS,
    "frozen.throttle": STAYS, "swapped.steering.throttle": STAYS, "spikes.10": STAYS, "power-up": ANEW,
    "reset": ANEW, "reset-loop.40": "searching", "sag-reset.30": ANEW, "hang.1000": ANEW,
    "overrun.once": ANEW, "overrun.2": "searching", "stuck-on.left": STAYS,
}  # fmt: skip
"""Where the guard stands 0.7 s after each, in a drive ahead with the arm switch on."""
ON_THE_CARRIER = {
    "all-lost": STOPS, "two-receivers": STAYS, "burst.400": ANEW, "reset": ANEW,
    "reset-loop.40": "searching", "hang.64": ANEW, "overrun.5": "searching",
    "stuck-closed.left_out": STAYS, "cable-off.left_out": STAYS, "bounces.left_out.50": STAYS,
    "both-closed.tray_left": STAYS, "jammed.tray_left": STAYS,
}  # fmt: skip


@pytest.mark.parametrize(
    ("robot", "key"),
    [
        pytest.param("tank_pair", "overrun.2", marks=AVR),
        *(
            pytest.param("tank_pair", key, marks=[*AVR, pytest.mark.long])
            for key in ON_THE_TANK
            if key != "overrun.2"
        ),
        *(pytest.param("sample_carrier", key, marks=[*ARM, pytest.mark.long]) for key in ON_THE_CARRIER),
    ],
)
def test_what_is_broken_is_broken_at_the_pins(tmp_path: Path, robot: str, key: str) -> None:
    """The image meets it and the core does as it does: not one tick differs, before, meanwhile or after."""
    bench, chip = mounted(tmp_path, robot)
    bench.arm()
    bench.session.sticks.set("throttle", 0.8)
    before = bench.run(0.2)
    bench.session.faults.inject(key)
    broken = bench.run(0.7)
    bench.session.faults.clear_all()
    mended = bench.run(0.3)
    bench.session.close()

    assert before.guard.state == STAYS
    assert broken.guard.state == (ON_THE_TANK if robot == "tank_pair" else ON_THE_CARRIER)[key]
    board = mended.link.board
    assert (board.differing, board.first, board.waits) == (0, "", "")
    assert board.compared > before.link.board.compared + 100
    assert mended.rules == before.rules == (), "no rule is broken by what the chip did"
    told = {"reset": "its reset pin", "hang": "its watchdog", "overrun": "a tick has come late"}
    for kind, words in told.items():
        assert (words in board.started) == (
            key.startswith(kind) or (words, key[:3]) == ("its reset pin", "sag")
        )
    assert chip.account().pulses_read > 100


@pytest.mark.parametrize(
    "key", [pytest.param("burst.60", marks=AVR), pytest.param("reset", marks=[*AVR, pytest.mark.long])]
)
def test_a_pulse_sum_wire_is_broken_as_well(tmp_path: Path, key: str) -> None:
    """Trains that overlap are left out whole; a board that starts amid one finds its place."""
    text = (ROOT / "profiles" / "tank_pair.toml").read_text(encoding="utf-8")
    one_wire = f'{text}\n[receiver]\nwire = "pulse-sum"\n'
    (tmp_path / "tank_pair.toml").write_text(one_wire, encoding="utf-8")
    bench, chip = mounted(tmp_path, "tank_pair")
    bench.arm()
    bench.session.sticks.set("throttle", 0.8)
    before = bench.run(0.2)
    bench.session.faults.inject(key)
    bench.run(0.6)
    bench.session.faults.clear_all()
    board = bench.run(0.4).link.board
    bench.session.close()

    assert before.guard.state == STAYS
    assert (board.differing, board.first, board.waits) == (0, "", "")
    assert board.compared > before.link.board.compared + 400
    left_out = "were left out" in chip.view().words
    assert left_out == (chip.account().not_played > 0) == (key == "burst.60")
    assert 20 < chip.late_ms < 40


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_a_fault_that_no_chip_can_have_is_refused_by_name(tmp_path: Path, robot: str) -> None:
    """A wrong clock: told in the list, refused where it is asked for, and there again without a chip."""
    bench, _ = mounted(tmp_path, robot)
    faults = bench.session.faults
    refused = [choice.key for choice in faults.choices if choice.refused]
    with pytest.raises(
        OptionError, match=r"runs 10 % slow.*No simulated chip here can have its clock turned"
    ):
        faults.inject("slow-clock.10")
    on = faults.active
    bench.session.image.drop("for a test")
    faults.inject("slow-clock.10")
    bench.session.close()

    assert [key for key in refused if not key.startswith("two.")] == ["slow-clock.10", "fast-clock.10"]
    assert on == ()
    assert not any(choice.refused for choice in faults.choices)


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_a_reset_that_nobody_asked_for_is_told(tmp_path: Path, robot: str) -> None:
    """A program that hangs by itself: its watchdog bites, and the bench goes on without it."""
    bench, chip = mounted(tmp_path, robot)
    bench.run(0.3)
    chip.loop.run.chip.hang()
    bench.run(0.3)
    image = bench.session.image.chip
    bench.session.close()

    assert image is None
    assert any("was reset" in words and "WATCHDOG" in words for words in bench.words("link"))


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_the_body_goes_where_the_pins_say(tmp_path: Path, robot: str) -> None:
    """Two outputs the wrong way round, one of them reversed: it drives back, and the pins differ."""
    speeds = []
    for wrong in (False, True):
        bench = Bench(tmp_path, robot)
        flashed = flash(bench.session.tuning.profile, None)
        bench.session.image.mount(with_outputs_swapped(flashed) if wrong else flashed)
        bench.session.power_up()
        bench.arm()
        bench.session.sticks.set("throttle", 0.6)
        snapshot = bench.run(0.6)
        bench.session.close()
        assert snapshot.physics is not None
        speeds.append(snapshot.physics.speed_mps)
        assert snapshot.link.board.first.startswith("shown: " if wrong else "")

    assert speeds[0] > 0.1
    assert speeds[1] == pytest.approx(-speeds[0], rel=0.05)


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_the_battery_sags_at_its_pin(tmp_path: Path, robot: str) -> None:
    """The board measures what the physics' battery has, within two steps; a wrong divider shows."""
    bench, chip = mounted(tmp_path, robot)
    bench.arm()
    bench.session.sticks.set("throttle", 1.0)
    seen = []
    chip.loop.run.watchers.append(lambda _: seen.append(bench.session.robot.body.bus_v))
    snapshot = bench.run(0.5)
    bench.session.close()
    full = full_pack_v(bench.session.tuning.profile.robot(None).battery)

    assert min(seen) < full - 0.1, "it sags"
    assert snapshot.link.board.differing == 0

    other = Bench(tmp_path, robot)
    flashed = flash(other.session.tuning.profile, None)
    wrong = replace(flashed.pins, battery_mv=round(flashed.pins.battery_mv * 1.02))
    other.session.image.mount(replace(flashed, pins=wrong))
    other.session.power_up()
    first = other.run(0.3).link.board.first
    other.session.close()
    assert first.startswith(f"read: tick 0, {wrong.battery} (battery): ")


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_another_loadout_has_another_image(tmp_path: Path, robot: str) -> None:
    """The bench goes on without the chip, and says so."""
    bench, _ = mounted(tmp_path, robot)
    bench.session.change_loadout(None)
    bench.run(0.1)

    assert bench.session.image.chip is None
    assert any("no image runs any more" in words for words in bench.words("link"))
    bench.session.close()
