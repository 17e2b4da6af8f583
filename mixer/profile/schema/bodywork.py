"""Sections for the physics of the whole machine: chassis, wheels, lift, parts, match."""

from typing import Annotated, Literal

from pydantic import Field

from mixer.profile.schema.base import Name, Names, NotNegative, Point, Positive, Section, Share


class Chassis(Section):
    """The machine on its wheels."""

    mass_kg: Annotated[float, Field(gt=0, le=2000)]
    """mass ready to drive, in kg → mass, wheel loads, sprint, stopping distance"""
    class_limit_kg: Positive | None = None
    """the most the event allows, in kg"""
    track_m: Positive | None = None
    """distance between left and right wheels, in m"""
    wheelbase_m: Positive | None = None
    """distance between first and last axle, in m"""
    yaw_inertia_kgm2: Positive | None = None
    """inertia about the upright axis, in kg·m² → half a turn"""
    grip: Annotated[float, Field(gt=0, le=5)] = 0.8
    """coefficient of friction between tyre and floor → standing push, turn rate, hardest stop"""
    rolling: Annotated[float, Field(ge=0, le=0.5)] = 0.02
    """rolling resistance as a share of the weight → top speed"""
    magnet_n: NotNegative = 0.0
    """pull of magnets towards the floor, in N → standing push"""
    magnet_back_n: NotNegative = 0.0
    """the same of the other face, while the robot lies on its back"""
    centre_of_gravity_m: Point | None = None
    """[x forward, y left, z up] from the middle of the wheels on the floor, in m; else the parts say it →
    centre of gravity, wheel loads, turn rate"""


class Wheel(Section):
    """One wheel and the output that turns it."""

    output: Name | None = None
    """the output that turns it; leave it out for a wheel that only rolls → top speed, turn rate"""
    drags: Name | None = None
    """the [motor.NAME] that a wheel without output turns along, such as a dead gearmotor → top speed"""
    drags_count: Annotated[float, Field(gt=0, le=16)] = 1.0
    """how many of them → top speed"""
    x_m: Annotated[float, Field(ge=-10, le=10)] = 0.0
    """place forward of the middle, in m → turn rate, wheel loads"""
    y_m: Annotated[float, Field(ge=-10, le=10)] = 0.0
    """place left of the middle, in m → turn rate, wheel loads"""
    angle_deg: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """where it drives to: 0 forward, 90 left → top speed, turn rate"""
    diameter_m: Annotated[float, Field(gt=0, le=2)]
    """diameter of the wheel, in m → top speed, turn rate, sprint"""
    kind: Literal["plain", "roller"] = "plain"
    """"roller" for a wheel that slides freely sideways → turn rate"""


class Skid(Section):
    """What rests on the floor without a wheel: a nose, a scoop, a stub. It carries weight and rubs."""

    x_m: Annotated[float, Field(ge=-10, le=10)] = 0.0
    """place forward of the middle, in m → wheel loads"""
    y_m: Annotated[float, Field(ge=-10, le=10)] = 0.0
    """place left of the middle, in m → wheel loads"""
    friction: Annotated[float, Field(ge=0, le=5)] = 0.4
    """coefficient of friction between it and the floor → top speed"""


class Lift(Section):
    """What actuators raise."""

    kind: Literal["lever", "cam", "wedge"]
    """"lever", "cam" or "wedge" → lift"""
    actuators: Annotated[Names, Field(min_length=1)]
    """names of the actuators that share the load → lift"""
    arm_mm: Positive | None = None
    """from the pivot to the load, in mm → lift, travel time"""
    lever_mm: Positive | None = None
    """from the pivot to where the actuator pushes, in mm → lift, travel time"""
    start_deg: Annotated[float, Field(ge=-180, le=180)] = 0.0
    """angle of the arm above level when retracted"""
    wedge_deg: Annotated[float, Field(gt=0, lt=90)] | None = None
    """slope of the wedge → lift"""
    load_kg: NotNegative | None = None
    """what it raises, in kg → travel time"""
    hinge_x_m: Annotated[float, Field(ge=-10, le=10)] | None = None
    """place of the hinge (or the wedge) forward of the middle, in m: with it, whether the robot tips →
    tipping"""
    reaches: Literal["front", "back"] = "front"
    """where the load lies from the hinge → tipping"""


class Part(Section):
    """Something that weighs."""

    name: Name
    """what it is called"""
    mass_kg: Annotated[float, Field(gt=0, le=2000)]
    """its mass in kg → centre of gravity, wheel loads"""
    at_m: Point = (0.0, 0.0, 0.0)
    """where it sits: [x forward, y left, z up] in m → centre of gravity, wheel loads"""


class Match(Section):
    """How long, and how hard, the robot is driven."""

    minutes: Annotated[float, Field(gt=0, le=600)] = 3.0
    """length in minutes → charge used, winding heat"""
    duty: Share = 0.5
    """typical stick while driving and turning, as a share of full; a push is driven at full stick → charge
    used, typical current"""
    push: Share = 0.2
    """share of the match spent pushing another robot → charge used, winding heat"""
    chase: Share = 0.45
    """share of the match spent driving ahead and back → charge used"""
    turn: Share = 0.2
    """share of the match spent turning on the spot → charge used"""
    idle: Share = 0.15
    """share of the match at rest → charge used"""
    arena_m: Positive | None = None
    """way across the arena, in m → sprint"""
    opponent_kg: Positive | None = None
    """mass of the robot to push, in kg → pushing speed"""
    opponent_grip: Annotated[float, Field(ge=0, le=5)] = 0.8
    """coefficient of friction between that robot's wheels and the floor → pushing speed"""
