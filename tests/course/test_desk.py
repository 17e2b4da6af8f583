"""The course beside a session: runs begun, kept and measured, and the blind comparison."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path

import pytest

from mixer.course.desk.desk import Desk
from mixer.course.keep.again import kept_run
from mixer.course.keep.card import read_card
from mixer.course.study.deal import order_of
from mixer.course.tasks.scale import Scale
from mixer.errors import OptionError, WriteError
from mixer.live.robot.robot import Build
from tests.course.driven import feeling, scale, text_of
from tests.course.driver import Driver
from tests.live.benches import Bench


class AtOnce:
    """A worker that has measured the robot before."""

    def submit(self, job: Callable[[Build], Scale], build: Build, /) -> "Future[Scale]":
        """It is done."""
        del job, build
        done: Future[Scale] = Future()
        done.set_result(scale(text_of("tank_pair")))
        return done


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """The small robot."""
    made = Bench(tmp_path, "tank_pair")
    yield made
    made.session.close()


def desk_of(bench: Bench, folder: Path) -> Desk:
    """A desk whose task is the half turn."""
    desk = Desk(bench.session, folder / "course", AtOnce())
    desk.shelf.name_driver(" Ada  L. ")
    desk.choose("turn")
    return desk


def drive(bench: Bench, desk: Desk, seed: int) -> None:
    """A run by the simulated driver's hands, picture by picture."""
    desk.start()
    assert desk.task is not None
    driver = Driver(bench.session.robot, desk.task, feeling(text_of("tank_pair")), seed)
    bench.session._source = driver
    while desk.running:
        bench.run(0.2)
    bench.session.use("hand")


def test_a_run_is_kept_and_measures_the_same_again(bench: Bench, tmp_path: Path) -> None:
    """What the bench shows of a run is what its log gives, to the bit; it says who drove, and how tuned."""
    desk = desk_of(bench, tmp_path)
    drive(bench, desk, 1)
    done = desk.runs[-1]
    assert done.measures is not None
    assert done.measures == kept_run(done.log).measures
    card = read_card(done.log)
    assert (card.driver, card.robot, card.task) == ("Ada L.", "tank pair", "turn")
    assert card.tuning == bench.session.tuning.profile.fingerprint()
    drive(bench, desk, 2)
    assert [run.log.name for run in desk.runs] == ["turn-0001.csv", "turn-0002.csv"]


def test_a_run_that_is_disturbed_does_not_count(bench: Bench, tmp_path: Path) -> None:
    """Given up, a value changed, a fault put in, powered up, its recording ended: each says why."""
    desk = desk_of(bench, tmp_path)
    ends = {
        "given up": desk.give_up,
        "the tuning was changed meanwhile": lambda: bench.session.tuning.set("shape.soft.expo", 0.5),
        "something was broken meanwhile": lambda: bench.session.faults.inject("all-lost"),
        "the robot was put elsewhere meanwhile": bench.session.power_up,
        "its log was ended": bench.session.recorder.stop,
    }
    for why, end in ends.items():
        desk.start()
        end()
        bench.run(0.1)
        assert not desk.running
        assert desk.runs[-1].why == why
        assert desk.runs[-1].measures is None
        bench.session.faults.clear_all()


def test_a_comparison_tells_no_side_before_its_end(bench: Bench, tmp_path: Path) -> None:
    """Dealt in balanced order; neither view nor events say which; values cannot be changed over by hand."""
    desk, tuning = desk_of(bench, tmp_path), bench.session.tuning
    with pytest.raises(OptionError, match="same tuning"):
        desk.compare("time_s", 5)
    assert tuning.view().side == "A"
    tuning.swap()
    tuning.set("shape.soft.expo", 0.6)
    events = len(bench.words("edit"))
    desk.compare("time_s", 5)
    assert desk.blind is not None
    drive(bench, desk, 1)
    drive(bench, desk, 2)
    assert tuning.view().side == "?"
    assert len(bench.words("edit")) == events
    for work in (tuning.swap, tuning.undo, tuning.redo, tuning.copy_across, tuning.save):
        with pytest.raises(OptionError, match="hidden"):
            work()
    with pytest.raises(OptionError, match="under way"):
        desk.choose("box")
    assert [read_card(run.log).side for run in desk.runs] == list(order_of(5, 0))
    assert (desk.blind.pair, desk.blind.needed) == (1, None)
    result = desk.reveal()
    assert result is not None
    assert result.pairs == 1
    assert not any(one.found for one in result.differences)
    assert tuning.view().side in ("A", "B")


def test_a_tuning_changed_in_between_ends_the_comparison(bench: Bench, tmp_path: Path) -> None:
    """Runs with two states of one tuning are never taken for one."""
    desk, tuning = desk_of(bench, tmp_path), bench.session.tuning
    tuning.set("shape.soft.expo", 0.6)
    desk.compare("time_s", 5)
    assert "hidden" in tuning.set("shape.soft.expo", 0.1)
    text = bench.path.read_text(encoding="utf-8")
    bench.path.write_text(text.replace("deadband = 0.04", "deadband = 0.05"), encoding="utf-8")
    tuning.reload()
    with pytest.raises(OptionError, match="a tuning was changed"):
        desk.start()
    assert desk.blind is None


def test_a_way_is_kept_as_a_task(bench: Bench, tmp_path: Path) -> None:
    """The last run's trace becomes the sixth task; one that led nowhere does not."""
    desk = desk_of(bench, tmp_path)
    with pytest.raises(OptionError, match="no run"):
        desk.keep_way()
    desk.choose("box")
    drive(bench, desk, 1)
    desk.keep_way()
    assert desk.task is not None
    assert [task.key for task in desk.tasks][-1] == desk.task.key == "own"
    drive(bench, desk, 2)
    assert desk.runs[-1].measures == kept_run(desk.runs[-1].log).measures


def test_over_a_link_the_driver_arms(bench: Bench, tmp_path: Path) -> None:
    """Whoever holds a transmitter arms by it: the robot waits, as after any power-up, and no clock runs."""
    desk = desk_of(bench, tmp_path)
    assert desk.task is not None
    driver = Driver(bench.session.robot, desk.task, feeling(text_of("tank_pair")), 1)
    driver.mode = "link"
    bench.session._source = driver
    desk.start()
    assert bench.run(1.0).guard.state != "live"
    assert desk.lap is not None
    assert desk.running
    assert not desk.lap.begun


def test_a_place_that_takes_no_files_is_told(bench: Bench, tmp_path: Path) -> None:
    """A file where the folder should be: nothing begins, and the message names it."""
    desk = desk_of(bench, tmp_path)
    desk.shelf.folder.write_text("no folder", encoding="utf-8")
    with pytest.raises(WriteError, match="tank_pair"):
        desk.start()
    assert not desk.running


def test_orders_are_balanced() -> None:
    """In every block of two pairs one begins with A and one with B; which is by lot."""
    firsts = [order_of(seed, pair)[0] for seed in range(40) for pair in (0, 1)]
    for one, two in zip(firsts[::2], firsts[1::2], strict=True):
        assert {one, two} == {"A", "B"}
    assert 8 < firsts[::2].count("A") < 32
