"""What a replay says about the drive: guard, channels, outputs, interlocks, summed up chunk by chunk.

Each accumulator keeps what its answer needs and no more, so a log may be as long as it likes. How the
chunks are cut makes no difference to the summary.
"""

from dataclasses import dataclass

from mixer.core.plan import Plan
from mixer.runs.clock import TickTime, tick_time
from mixer.runs.measure.channels import ChannelMeasure, ChannelWatch
from mixer.runs.measure.guard import GuardMeasure, GuardWatch
from mixer.runs.measure.outputs import ActuatorMeasure, OutputMeasure, OutputsWatch
from mixer.runs.play.stretch import Stretch


@dataclass(frozen=True, slots=True)
class Summary:
    """Everything a replay measured. Times in s since tick 0, commands as a share of full."""

    robot: str
    tick_ms: int
    ticks: int
    duration_s: float
    guard: GuardMeasure
    channels: tuple[ChannelMeasure, ...]
    outputs: tuple[OutputMeasure, ...]
    actuators: tuple[ActuatorMeasure, ...]


class Measures:
    """Collects a summary while a replay runs."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._time: TickTime = tick_time(plan.tick_ms)
        self._ticks = 0
        self._guard = GuardWatch(plan)
        self._channels = [ChannelWatch(plan, index) for index in range(len(plan.channels))]
        self._outputs = OutputsWatch(plan)

    def add(self, stretch: Stretch) -> None:
        """The next stretch, which follows the one before without a gap."""
        self._guard.add(stretch)
        for channel in self._channels:
            channel.add(stretch)
        self._outputs.add(stretch)
        self._ticks += len(stretch.signals)

    def summary(self) -> Summary:
        """What has been seen so far."""
        return Summary(
            robot=self._plan.name,
            tick_ms=self._plan.tick_ms,
            ticks=self._ticks,
            duration_s=self._time.seconds(self._ticks),
            guard=self._guard.measure(self._time),
            channels=tuple(channel.measure(self._time) for channel in self._channels),
            outputs=self._outputs.outputs(self._time),
            actuators=self._outputs.actuators(self._time),
        )
