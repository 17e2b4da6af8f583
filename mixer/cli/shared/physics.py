"""The physics half of what `stickwright replay` prints."""

from mixer.cli.shared.console import Console
from mixer.runs.measure.physics import PhysicsSummary


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
