"""Sections for the physics: motors, drivers, battery. All optional, all floats, units in the names.

What is missing leaves out what needs it; what is there must be possible (see `check_physical`).
"""

from typing import Annotated, Literal

from pydantic import Field

from mixer.profile.schema.base import NotNegative, Pin, Positive, Section, Share


class Motor(Section):
    """A brushed motor, by data-sheet points at nominal volts or by its constants; before the gearing."""

    nominal_v: Positive | None = None
    """volts for which the data sheet's points hold → top speed, motor volts"""
    no_load_rpm: Positive | None = None
    """speed without load at nominal_v → top speed, turn rate"""
    no_load_a: NotNegative | None = None
    """current without load, in A → top speed"""
    stall_nm: Positive | None = None
    """torque at standstill at nominal_v, in N·m"""
    stall_a: Positive | None = None
    """current at standstill at nominal_v, in A → stall current, standing push"""
    resistance_ohm: Positive | None = None
    """winding resistance, instead of the stall point → stall current, top speed"""
    torque_constant_nm_per_a: Positive | None = None
    """N·m per A, instead of the stall point → top speed, standing push"""
    gear_ratio: Annotated[float, Field(gt=0, le=10_000)] = 1.0
    """turns of the motor for one of the wheel → top speed, turn rate, sprint, standing push"""
    gear_efficiency: Annotated[float, Field(gt=0, le=1)] = 1.0
    """share of the motor's power that leaves the gearing → sprint, charge used"""
    gear_torque_nm: Positive | None = None
    """the most torque the gearing stands at its output shaft, in N·m"""
    rotor_inertia_kgm2: Positive | None = None
    """inertia of the rotor, in kg·m² → sprint, half a turn"""
    winding_to_case_k_per_w: Positive | None = None
    """heat path from winding to case, in K/W → winding heat, stall time"""
    case_to_air_k_per_w: Positive | None = None
    """heat path from case to air, in K/W → winding heat"""
    winding_tau_s: Positive | None = None
    """thermal time constant of the winding, in s → winding heat, stall time"""
    case_tau_s: Positive | None = None
    """thermal time constant of the case, in s → winding heat"""
    winding_limit_c: Annotated[float, Field(gt=20, le=400)] | None = None
    """the hottest the winding may become, in °C → stall time"""


class Driver(Section):
    """What switches a motor's current."""

    rated_a: Positive | None = None
    """current it carries without end, in A"""
    limit_a: Positive | None = None
    """current at which it limits itself, in A → stall current, peak current"""
    resistance_ohm: NotNegative = 0.0
    """resistance of both switches in the path, in ohm → stall current, top speed"""
    drop_v: Annotated[float, Field(ge=0, le=5)] = 0.0
    """fixed volts lost in the path → top speed"""


CurvePoint = Annotated[tuple[Share, Annotated[float, Field(gt=0, le=5)]], Field(strict=False)]


class Battery(Section):
    """One pack."""

    cells: Annotated[int, Field(ge=1, le=24)]
    """cells in series → top speed, stall current, charge used"""
    capacity_ah: Annotated[float, Field(gt=0, le=200)]
    """charge of the full pack, in Ah → charge used"""
    resistance_ohm: NotNegative = 0.0
    """inner resistance of the whole pack, in ohm → lowest volts, stalled volts, top speed"""
    c_rating: Positive | None = None
    """allowed current as a multiple of capacity_ah per hour"""
    curve: Annotated[tuple[CurvePoint, ...], Field(strict=False, min_length=2)] | None = None
    """rest volts of one cell over charge: [[0.0, 3.2], [0.5, 3.8], [1.0, 4.2]] → top speed, lowest volts"""
    lead_awg: Annotated[int, Field(ge=0, le=40)] | None = None
    """gauge of the leads → lowest volts, stalled volts"""
    lead_length_m: Annotated[float, Field(gt=0, le=20)] | None = None
    """length of both leads together, in m → lowest volts, stalled volts"""
    low_v: Positive | None = None
    """pack volts at which to stop driving"""
    pin: Pin | None = None
    """the board's analog pin that measures the pack behind a divider; left out, one that is free"""
    divider_kohm: Annotated[tuple[Positive, Positive], Field(strict=False)] | None = None
    """[to battery plus, to ground]: the divider's resistors in kΩ, such as [47, 10]; left out, two that
    suit the pack → full scale"""


Thread = Literal["M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"]


class Screw(Section):
    """A lead screw: an ISO metric coarse thread by name, or any by its measures."""

    thread: Thread | None = None
    """ISO metric coarse thread such as "M6" → travel time, lift"""
    diameter_mm: Positive | None = None
    """outer diameter in mm, instead of thread → lift"""
    pitch_mm: Positive | None = None
    """way from one thread to the next in mm, instead of thread → travel time, lift"""
    starts: Annotated[int, Field(ge=1, le=8)] = 1
    """number of parallel threads → travel time, lift"""
    friction: Annotated[float, Field(ge=0, le=1)] = 0.2
    """coefficient of friction between screw and nut → lift"""
    half_angle_deg: Annotated[float, Field(ge=0, lt=60)] = 30.0
    """half the angle of a thread given by diameter_mm and pitch_mm: 30 metric, 15 trapezoidal, 0 square
    → lift"""
    collar_friction: Annotated[float, Field(ge=0, le=1)] = 0.0
    """coefficient of friction of the collar or bearing that takes the load, 0 for a ball bearing → lift"""
    collar_mm: Positive | None = None
    """mean diameter of that collar, in mm → lift"""
