"""Recording what reaches the board, faults included, to an ordinary log that replays as it was.

A row a tick in which a pulse arrived or a contact changed. What has been recorded is with the operating
system after half a second, so a crash costs less than a second; a full disk ends the recording and says so.
"""

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mixer.core.plan import Plan
from mixer.errors import WriteError
from mixer.files import GrowingFile
from mixer.plant.parts.robot import Robot
from mixer.runs.log.cells import Row
from mixer.runs.log.head import head_text, made_by
from mixer.runs.log.write import LogWriter
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.start_state import write_start_state
from mixer.runs.play.stretch import Stretch

BATCH_S = 0.5
NOTHING: Mapping[str, Any] = MappingProxyType({})


class Recorder:
    """Writes at most one log at a time."""

    def __init__(self) -> None:
        self.path: Path | None = None
        """The log that is being written; None while none is."""
        self.rows = 0
        self._volts: int | None = None
        self.problem = ""
        """Why the last recording ended by itself; empty otherwise."""

    def start(
        self,
        path: Path,
        plan: Plan,
        state: Sequence[int] | None = None,
        *,
        robot: Robot | None = None,
        head: Mapping[str, Any] = NOTHING,
        overwrite: bool = False,
    ) -> None:
        """Begin a log; its first row is the next tick. `state` of the firmware is written beside it.

        `robot` is the physics whose volts are written too, `head` what the log says of itself.

        Raises WriteError where it cannot be made.
        """
        self.stop()
        self._file = GrowingFile(path, overwrite=overwrite)
        if state is not None:
            write_start_state(path, plan, state)
        self.path, self.rows, self.problem = path, 0, ""
        self._volts = None if robot is None else plant_columns(robot).index("bus_v")
        self._tick_us, self._channels = plan.tick_ms * 1000, len(plan.channels)
        self._contacts: tuple[int, ...] = ()
        self._tick = self._handed = 0
        self._row_tick = -1
        self._text = io.StringIO(newline="")
        self._text.write(head_text({**made_by(plan), **head}))
        names = [channel.name for channel in plan.channels]
        self._writer = LogWriter(self._text, names, [contact.name for contact in plan.contacts], volts=True)

    def add(self, stretch: Stretch) -> None:
        """What the board read in a stretch, while a log is being written."""
        plant, place = stretch.plant, self._volts
        volts = None if plant is None or place is None else plant[:, place].tolist()
        for number, inputs in enumerate(stretch.inputs.tolist()):
            if self.path is None:
                return
            self._take(inputs, None if volts is None else volts[number])

    def _take(self, inputs: Sequence[int], volts: float | None) -> None:
        pulses, contacts = tuple(inputs[: self._channels]), tuple(inputs[self._channels :])
        if not self._tick or any(pulses) or contacts != self._contacts:
            self._contacts = contacts
            self._row(self._tick, pulses, volts)
        self._tick += 1
        if (self._tick - self._handed) * self._tick_us >= BATCH_S * 1e6:
            self._hand_over()

    def stop(self) -> Path | None:
        """End the log; its path, None when none was being written."""
        path = self.path
        if path is not None:
            if self._tick - 1 > self._row_tick:
                self._row(self._tick - 1, (0,) * self._channels, None)
            self._hand_over()
            self._file.close()
            self.path = None
        return path

    def _row(self, tick: int, pulses: tuple[int, ...], volts: float | None) -> None:
        self._writer.write(Row(0, tick * self._tick_us, pulses, self._contacts, volts))
        self._row_tick = tick
        self.rows += 1

    def _hand_over(self) -> None:
        self._handed = self._tick
        data = self._text.getvalue().encode()
        self._text.seek(0)
        self._text.truncate()
        try:
            self._file.append(data)
        except WriteError as error:
            self.problem = f"recording ended: {error.said}"
            self._file.close()
            self.path = None
