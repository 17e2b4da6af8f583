"""Which pin carries what, as somebody with an oscilloscope has to know it."""

from dataclasses import dataclass
from enum import Enum, auto


class Shape(Enum):
    """How an output's pins say what they say."""

    PULSE = auto()
    """A servo pulse on one pin."""
    DUTY = auto()
    """A duty on one pin, a direction on another: low is forward."""
    BRIDGE = auto()
    """A duty on one of two inputs of a bridge; both alike is rest."""


@dataclass(frozen=True, slots=True)
class OutputPins:
    """One output, outside the board."""

    name: str
    shape: Shape
    pin: str
    second: str = ""
    """The direction, or the bridge's other input; empty for a pulse."""
    rest: int = 0
    """What it shows at rest: µs of a pulse, 0 for a duty."""
    top: int = 0
    """The count that is full duty; 0 for a pulse."""
    brakes: bool = False
    """Of a bridge: whether what is not driven is braked, both inputs high."""

    @property
    def pins(self) -> tuple[str, ...]:
        """All of its pins."""
        return (self.pin, self.second) if self.second else (self.pin,)


@dataclass(frozen=True, slots=True)
class Pins:
    """A robot's wires at the chip's pins, in the order of its plan."""

    channels: tuple[str, ...]
    contacts: tuple[str, ...]
    outputs: tuple[OutputPins, ...]
    tick: str
    """High while a tick works; empty where no pin was left for it."""
    train: int = 0
    """Channels of a pulse-sum train, whose one pin every channel then has; 0: a wire each."""
    slots: tuple[int, ...] = ()
    """The number of each channel among the receiver's, from 1."""
    contact_inputs: tuple[int, ...] = ()
    """The number of each contact among the board's, from 1."""
    baud: int = 115_200
    battery: str = ""
    """The analog input behind the battery's divider; empty where the battery is not measured."""
    battery_mv: int = 0
    """Of the pack: what brings that input to its full scale."""
    analog_mv: int = 0
    """The same at the pin."""
