"""The bench with the robot's own image under it."""

from pathlib import Path

import pytest

from mixer.board.engine.flashed import flash
from mixer.live.bench.on_chip import ChipLink
from tests.live.benches import Bench

AVR = [pytest.mark.needs_tool("avr-gcc"), pytest.mark.needs_tool("simavr"), pytest.mark.needs_tool("gcc")]
ARM = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]


def mounted(folder: Path, robot: str) -> tuple[Bench, ChipLink]:
    """A bench on its robot's image."""
    bench = Bench(folder, robot)
    chip = ChipLink(flash(bench.session.tuning.profile, None))
    bench.session.image.mount(chip)
    bench.session.power_up()
    return bench, chip


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
    """A fault of the bench and another tuning are not on the pins: nothing is compared, and why is said."""
    bench, _ = mounted(tmp_path, robot)
    bench.arm()
    bench.session.faults.inject("all-lost")
    broken = bench.run(0.5).link.board
    bench.session.faults.clear_all()
    bench.session.power_up()
    whole = bench.run(0.5).link.board
    bench.session.tuning.set("shape.soft.expo", 0.5)
    tuned = bench.run(0.3).link.board
    bench.session.close()

    assert "reaches the robot and not the pins" in broken.waits
    assert broken.differing == 0
    assert (whole.waits, whole.runs) == ("", "this")
    assert whole.compared > 200
    assert tuned.runs == "other"
    assert "another is in use" in tuned.waits
    assert tuned.differing == 0


@pytest.mark.parametrize("robot", [pytest.param("tank_pair", marks=AVR)])
def test_another_loadout_has_another_image(tmp_path: Path, robot: str) -> None:
    """The bench goes on without the chip, and says so."""
    bench, _ = mounted(tmp_path, robot)
    bench.session.change_loadout(None)
    bench.run(0.1)

    assert bench.session.image.chip is None
    assert any("no image runs any more" in words for words in bench.words("link"))
    bench.session.close()
