"""Which of a frame's channels and contacts are a plan's: by the numbers in the profile, never by place.

A loadout without the first stick, or a receiver with channels to spare, leaves every other wire where it
is. Whoever reads a board binds its frames here once; after that they stand in the plan's order.
"""

from dataclasses import replace

from mixer.board.frames import Frame
from mixer.core.plan import Plan
from mixer.errors import WrongDeviceError


class Binding:
    """The numbers of one plan's wires."""

    def __init__(self, plan: Plan) -> None:
        self._names = [channel.name for channel in plan.channels]
        self._receivers, self._inputs = plan.receivers, plan.contact_inputs
        self._as_it_is = (
            self._receivers == tuple(range(1, len(self._receivers) + 1)),
            self._inputs == tuple(range(1, len(self._inputs) + 1)),
        )

    def bound(self, frame: Frame) -> Frame:
        """The frame with the plan's channels and contacts in the plan's order, and no others.

        Raises:
            WrongDeviceError: the frame has not got all of the plan's channels.
        """
        there = len(frame.widths)
        highest = max(self._receivers)
        if there < highest:
            name = self._names[self._receivers.index(highest)]
            said = f"the board has {there} channels; {name} is on the receiver's channel {highest}"
            remedy = f"build the pulse reader with CHANNELS={highest} or more, or mend `receiver =`"
            raise WrongDeviceError(said, remedy)
        if there == len(self._receivers) and all(self._as_it_is):
            return frame
        widths = tuple(frame.widths[number - 1] for number in self._receivers)
        contacts = sum(frame.level(number - 1) << bit for bit, number in enumerate(self._inputs))
        return replace(frame, widths=widths, contacts=contacts)

    def told(self) -> str:
        """Which wire is which, for people."""
        pairs = zip(self._names, self._receivers, strict=True)
        return ", ".join(f"{name} {number}" for name, number in pairs)
