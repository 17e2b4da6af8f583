"""What a replay costs, stage by stage, as multiples of one tick of the direct core in the same run.

    python tests/bench/bench_replay.py [MINUTES] [ENGINE ...]

Reading, feeding and measuring are to stay small beside any engine, and memory flat with the log's length.
"""

import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterable
from itertools import islice
from pathlib import Path
from random import Random

from mixer.core.plan import Plan
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import LiveRobot, build_of
from mixer.profile.profile import load_profile
from mixer.review.drive import Reviewer
from mixer.review.moments import Place
from mixer.runs.log.cells import Row
from mixer.runs.log.read import open_log
from mixer.runs.log.write import write_log
from mixer.runs.measure.measures import Measures
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import make_engine
from mixer.runs.play.feed import feed
from mixer.runs.play.stretch import Stretch

PROFILE = Path(__file__).parents[2] / "profiles" / "sample_carrier.toml"
FRAME_US = 20_030


def make_log(path: Path, plan: Plan, minutes: float) -> None:
    """Random sticks at 50 Hz, armed after two seconds, one pulse in a thousand missing."""
    random = Random(1)
    channels = [channel.name for channel in plan.channels]

    def rows() -> Iterable[Row]:
        for frame in range(int(minutes * 60_000_000 / FRAME_US)):
            armed, moving = frame > 100, frame > 200
            pulses = [random.randint(1000, 2000) if moving else 1500 for _ in channels]
            pulses[channels.index("arm")] = 2000 if armed else 1000
            missing = 0 if random.random() > 0.001 else 1
            yield Row(
                0,
                frame * FRAME_US // 100 * 100,
                (pulses[0] * (1 - missing), *pulses[1:]),
                (0, 0, 0, 0),
                12.1,
            )

    with path.open("w", newline="", encoding="utf-8") as file:
        write_log(file, rows(), channels, [contact.name for contact in plan.contacts], volts=True)


def timed(work: Callable[[], object]) -> float:
    """Seconds of processor time."""
    start = time.process_time()
    work()
    return time.process_time() - start


def replayed(path: Path, engine: str) -> None:
    """A whole replay with its measures, as the command runs it."""
    build = build_of(load_profile(PROFILE))
    robot = LiveRobot(build, PlainBoard(build.plan, engine), bodiless=True)
    robot.add(Measures(build.plan))
    for chunk in DriveLog(build.plan, path).chunks():
        robot.take(chunk.inputs)


def reviewed(path: Path) -> None:
    """A whole review with its physics, as the command runs it without a page."""
    build = build_of(load_profile(PROFILE))
    robot = LiveRobot(build, PlainBoard(build.plan), bodiless=True)
    reviewer = Reviewer(build, robot)
    for chunk in DriveLog(build.plan, path).chunks():
        robot.take(chunk.inputs)
    reviewer.review(Place(PROFILE, path), "", None)


def peak_bytes(path: Path) -> int:
    """The most memory a whole replay holds at once."""
    tracemalloc.start()
    replayed(path, "python")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def show(line: str) -> None:
    """One line of the answer."""
    sys.stdout.write(line + "\n")


def main(arguments: list[str]) -> None:
    """Measure and print."""
    minutes = float(arguments[0]) if arguments else 2.0
    engines = arguments[1:] or ["direct", "python", "native"]
    plan = load_profile(PROFILE).plan()
    with tempfile.TemporaryDirectory() as folder:
        path, short = Path(folder) / "long.csv", Path(folder) / "short.csv"
        make_log(path, plan, minutes)
        make_log(short, plan, minutes / 4)
        rows = list(open_log(path, plan).rows())
        chunks = list(feed(rows, plan))
        ticks = sum(len(chunk.inputs) for chunk in chunks)
        few = list(islice(chunks, 5))
        direct = make_engine("direct", plan)
        core = timed(lambda: [direct.run(chunk.inputs) for chunk in few]) / sum(len(c.inputs) for c in few)
        fast = make_engine("native" if "native" in engines else "python", plan)
        ran = [Stretch(first, inputs, fast.run(inputs)) for first, inputs in chunks]
        measures = Measures(plan)
        costs = {
            "read rows": timed(lambda: sum(1 for _ in open_log(path, plan).rows())),
            "feed": timed(lambda: sum(1 for _ in feed(rows, plan))),
            "measure": timed(lambda: [measures.add(stretch) for stretch in ran]),
        }
        for name in engines:
            costs[f"all of it, {name}"] = timed(lambda name=name: replayed(path, name))  # type: ignore[misc]
        show(f"direct core: {core * 1e6:.1f} µs a tick; log of {minutes:g} min, {ticks} ticks")
        for name, cost in costs.items():
            each = cost / ticks
            hour = each * 1_800_000
            per_tick = f"{each / core:7.4f} ticks of the core {each * 1e6:6.2f} µs"
            show(f"{name:22} {per_tick}, an hour {hour:5.1f} s")
        reviewed(short)  # builds what is not built yet
        cost = timed(lambda: reviewed(path)) / ticks
        hour = cost * 1_800_000
        show(f"{'review with physics':22} {cost / core:7.4f} ticks of the core, an hour {hour:5.1f} s")
        ratio = peak_bytes(path) / peak_bytes(short)
        show(f"memory of this log against one a quarter as long: {ratio:.2f}")


if __name__ == "__main__":
    main(sys.argv[1:])
