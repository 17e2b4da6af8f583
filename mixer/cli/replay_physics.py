"""The physics half of `stickwright replay`: the same log with the robot in the loop."""

from collections.abc import Iterator, Sequence

from mixer.cli.console import Console
from mixer.cli.playing import tell_notices
from mixer.plant.from_profile import prepare
from mixer.profile import Profile
from mixer.runs.measure.per_tick import PerTickWriter
from mixer.runs.measure.physics import PhysicsPlayed, PhysicsReplay, PhysicsSummary, plant_columns
from mixer.runs.measure.plot import Sampled, drawing
from mixer.runs.play.closed_loop import ClosedLoop, robot_in
from mixer.runs.play.replay import LogReplay, Played


class PhysicsDrive:
    """One log through firmware and robot; summary and drawing once it has been played."""

    def __init__(self, profile: Profile, loadout: str | None, log: LogReplay) -> None:
        robot = robot_in(prepare(profile.robot(loadout)))
        self._log = log
        self._replay = PhysicsReplay(ClosedLoop(log.plan, robot, log.engine))
        self._sampled = Sampled(log.plan, robot, log.engine)
        self.columns: Sequence[str] = plant_columns(robot)

    def plays(
        self, console: Console, writer: PerTickWriter | None, what: str, *, draws: bool
    ) -> Iterator[Played]:
        """The firmware's ticks, while the plant's are written and kept on their way."""
        with console.progress(what, 1.0) as meter:
            stretches: Iterator[PhysicsPlayed] = self._replay.plays(self._log.chunks())
            for stretch in self._sampled.watched(stretches) if draws else stretches:
                if writer is not None:
                    writer.write(stretch.played, stretch.plant)
                meter.at(self._log.progress)
                yield stretch.played
        tell_notices(self._log, console)

    def summary(self) -> PhysicsSummary:
        """What the drive did to the robot."""
        return self._replay.summary()

    def drawing(self, title: str) -> bytes:
        """The drawing as SVG; only after `plays` with `draws`."""
        return drawing(self._sampled, title)


def print_physics(drive: PhysicsSummary, console: Console) -> None:
    """The drive for people."""
    console.heading("physics (an estimate from data-sheet numbers)")
    console.say(f"charge used {drive.charge_ah * 1000:.0f} mAh, {drive.charge_left:.0%} left")
    console.say(f"battery at most {drive.peak_a:.1f} A, at least {drive.lowest_v:.2f} V")
    console.say(
        f"drove {drive.distance_m:.1f} m, up to {drive.top_speed_mps:.2f} m/s, "
        f"wheels slipping for {drive.slipping_s:.1f} s"
    )
    if drive.hottest:
        console.say(f"hottest winding: {drive.hottest[0]}, {drive.hottest[1]:.0f} °C")
    for name, extension in drive.extension_m.items():
        console.say(f"{name} ends {extension * 1000:.1f} mm out")
    _print_outputs(drive, console)
    spent = {
        name: joules for name, joules in drive.energy_j.items() if name != "battery" and abs(joules) >= 1
    }
    parts = ", ".join(f"{name} {joules:.0f} J" for name, joules in spent.items())
    console.say(
        f"the battery gave {drive.energy_j['battery']:.0f} J: {parts}; {drive.unbalanced:.1%} unexplained"
    )


def _print_outputs(drive: PhysicsSummary, console: Console) -> None:
    console.table(
        ["output", "highest current>", "effective>", "near stall>", "winding>"],
        (
            [
                output.name,
                f"{output.peak_a:.1f} A",
                f"{output.effective_a:.2f} A",
                f"{output.stalled_s:.2f} s",
                "-" if output.hottest_c is None else f"{output.hottest_c:.0f} °C",
            ]
            for output in drive.outputs
        ),
    )
