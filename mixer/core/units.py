"""What the whole numbers of plans and signals count: a unit, or a place in one of the plan's tuples.

The types are plain ints to the arithmetic; the annotation says, to readers and to whatever prints a
number, what it counts. What may be absent is ``| None``, so that forgetting it is a type error.
"""

from enum import Enum
from typing import Annotated, NamedTuple, TypeAlias


class Unit(Enum):
    """What a number counts."""

    FLAG = "flag"
    LEVEL = "level"
    """0 or 1 on a wire."""
    POSITION = "index"
    """A switch's position, from 0."""
    PULSE = "µs"
    MS = "ms"
    TICKS = "ticks"
    COMMAND = "Q14"
    """ONE = 16384 is full stick or full output."""
    GAIN = "Q14 per µs"
    STEP = "Q14 per tick"
    WAY = "Q14 ticks"
    """Commands summed over ticks."""
    SENT = "µs or count"
    """What goes onto an output's wire: a servo pulse, or a duty count."""
    WIRE = "wire"
    """The number of a wire, from 1, as the receiver or the board counts them."""
    GUARD = "state"
    """One of the guard's states."""


class At(NamedTuple):
    """A place in the plan's tuple of that name."""

    things: str


Level: TypeAlias = Annotated[int, Unit.LEVEL]
Position: TypeAlias = Annotated[int, Unit.POSITION]
Us: TypeAlias = Annotated[int, Unit.PULSE]
Ms: TypeAlias = Annotated[int, Unit.MS]
Ticks: TypeAlias = Annotated[int, Unit.TICKS]
Q14: TypeAlias = Annotated[int, Unit.COMMAND]
Q14PerUs: TypeAlias = Annotated[int, Unit.GAIN]
Q14PerTick: TypeAlias = Annotated[int, Unit.STEP]
Q14Ticks: TypeAlias = Annotated[int, Unit.WAY]
Sent: TypeAlias = Annotated[int, Unit.SENT]
WireNumber: TypeAlias = Annotated[int, Unit.WIRE]

ChannelAt: TypeAlias = Annotated[int, At("channels")]
SwitchAt: TypeAlias = Annotated[int, At("switches")]
ContactAt: TypeAlias = Annotated[int, At("contacts")]
OutputAt: TypeAlias = Annotated[int, At("outputs")]
SourceAt: TypeAlias = Annotated[int, At("sources")]
"""A source of the mix: a stick, or a switch that feeds it."""
