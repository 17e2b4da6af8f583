"""The physical part of a profile from answers: motor, battery, chassis, wheels, parts, match."""

import math
from collections.abc import Iterator, Sequence

from mixer.profile.begin.lines import heading, noted
from mixer.profile.begin.questions import Answers
from mixer.profile.begin.wheels import Drive

CELL_V, STOP_V = 3.7, 3.3
NO_LOAD = 0.06
"""Current without load as a share of the stall current; common practice, no source."""
OHM_AH = 0.02
"""Inner resistance of a cell times its charge, ohm·Ah: 10 mohm at 2 Ah; common practice, no source."""
KG_PER_WH = 1 / 150
"""Of a lithium pack; common practice, no source."""
MOST_BATTERY, DRIVE = 0.3, 0.35
"""Shares of the robot's mass."""


def machine_lines(answers: Answers, drives: Sequence[Drive]) -> Iterator[str]:
    """Everything by which `size` works out speed, push, currents, charge and mass."""
    yield heading("The machine: weigh, measure, and write what the data sheets say")
    yield from _motor(answers)
    yield from _battery(answers)
    yield from _chassis(answers)
    for drive in drives:
        for wheel in drive.wheels:
            yield from ("", f"[wheel.{wheel.name}]", f'output = "{drive.name}"')
            yield from (f"x_m = {wheel.x_m:g}", f"y_m = {wheel.y_m:g}")
            yield f"diameter_m = {answers['wheel_mm'] / 1000:g}"
            if answers["layout"] != "sides":
                yield from (f"angle_deg = {wheel.angle_deg:g}", 'kind = "roller"')
    yield from _parts(answers)
    yield from ("", "[match]", f"minutes = {answers['minutes']:g}")


def _motor(answers: Answers) -> Iterator[str]:
    """A gearmotor by what its output shaft does: K = (V - R·I0)/w and R = V/I, so it agrees with itself."""
    volts, stall = answers["cells"] * CELL_V, answers["stall_a"]
    idle = NO_LOAD * stall
    constant = (volts - idle * volts / stall) / (answers["motor_rpm"] * 2 * math.pi / 60)
    yield "# A gearmotor as its output shaft shows it, gearing counted in. Current without load is usual,"
    yield "# and the torque is what volts, speed and current make together: the data sheet knows better."
    yield from ("[motor.wheel]", f"nominal_v = {volts:g}", f"no_load_rpm = {answers['motor_rpm']:g}")
    yield from (
        f"no_load_a = {idle:.4g}",
        f"stall_nm = {constant * (stall - idle):.4g}",
        f"stall_a = {stall:g}",
    )
    yield from ("", noted("[driver.wheel]", "add rated_a and limit_a of your controllers"))
    yield "resistance_ohm = 0.01"


def _battery(answers: Answers) -> Iterator[str]:
    cells, charge = answers["cells"], answers["capacity_ah"]
    yield from ("", "[battery]", f"cells = {cells}", f"capacity_ah = {charge:g}")
    yield noted(f"resistance_ohm = {cells * OHM_AH / charge:.3g}", "usual for so many cells of that size")
    yield noted(f"low_v = {cells * STOP_V:g}", "stop driving at 3.3 V a cell")


def _chassis(answers: Answers) -> Iterator[str]:
    yield from ("", "[chassis]", f"mass_kg = {answers['mass_kg']:g}")
    if answers["class_limit_kg"] is not None:
        yield f"class_limit_kg = {answers['class_limit_kg']:g}"
    if answers["layout"] == "sides":
        yield f"track_m = {answers['track_mm'] / 1000:g}"
        if "wheelbase_mm" in answers:
            yield f"wheelbase_m = {answers['wheelbase_mm'] / 1000:g}"
    yield noted("grip = 0.8", "rubber on a clean floor; less with dust")


def _parts(answers: Answers) -> Iterator[str]:
    """Battery by its energy, drive by its usual share, and the hull, which is the rest."""
    mass = answers["mass_kg"]
    energy = answers["cells"] * CELL_V * answers["capacity_ah"]
    battery, drive = min(energy * KG_PER_WH, MOST_BATTERY * mass), DRIVE * mass
    height = answers["wheel_mm"] / 2000
    yield ""
    yield "# Where the weight sits: [forward, left, up] from the middle of the wheels. Guesses."
    parts = (
        ("battery", battery, height),
        ("drive", drive, height),
        ("hull", mass - battery - drive, 1.5 * height),
    )
    for name, kilograms, up in parts:
        yield from (
            "",
            "[[part]]",
            f'name = "{name}"',
            f"mass_kg = {kilograms:.4g}",
            f"at_m = [0.0, 0.0, {up:.4f}]",
        )
