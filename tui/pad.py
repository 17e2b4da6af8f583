"""A game controller as a source, where one is plugged in and the package pysdl2 is there.

    session.pad = pad_source(session.sticks)      # None without package or controller
    session.use("pad")

The controller moves the hand sticks, frame by frame; switches stay where keys and mouse put them. When
it is unplugged no pulses arrive, as from a radio that is switched off, and the fail-safe acts.
"""

import warnings
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Any, Protocol

from mixer.live.inputs.hands import HandSticks

AXES = ("right x", "left y", "right y", "left x")
"""A controller's axes in the order in which the plan's sticks take them, up and right being positive."""
CENTRE = 0.04
"""What a thumb stick's own centre wanders by (common practice, no source); cut out without a jump."""
FULL_AXIS = 32767


class Pad(Protocol):
    """What the source needs of a controller."""

    def axes(self) -> Mapping[str, float] | None:
        """Each of `AXES`, -1 to 1; None once it is unplugged."""
        ...


class PadSource:
    """The source ``pad``: sticks in the plan's order go by the controller's axes."""

    mode = "pad"

    def __init__(self, hands: HandSticks, pad: Pad) -> None:
        self._hands, self._pad = hands, pad

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """What the hand sticks send, moved by the controller."""
        if not self._hands.sends(tick):
            return self._hands.inputs(tick, readings)
        axes = self._pad.axes()
        if axes is None:
            row = self._hands.inputs(tick, readings)
            return [0] * (len(row) - len(readings)) + row[len(row) - len(readings) :]
        for stick, axis in zip(self._hands.names, AXES, strict=False):
            self._hands.set(stick, without_centre(axes[axis]))
        return self._hands.inputs(tick, readings)


def without_centre(value: float) -> float:
    """An axis with its centre cut out: 0 there, full where it was full, no jump between."""
    beyond = max(abs(value) - CENTRE, 0.0) / (1 - CENTRE)
    return beyond if value > 0 else -beyond


def pad_source(hands: HandSticks) -> PadSource | None:
    """A source for the first controller that is plugged in; None without one, or without pysdl2."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sdl = import_module("sdl2")
    except ImportError:
        return None
    pad = SdlPad.first(sdl)
    return None if pad is None else PadSource(hands, pad)


class SdlPad:
    """A controller as the library SDL 2 sees it."""

    def __init__(self, sdl: Any, controller: Any) -> None:  # noqa: ANN401
        self._sdl, self._controller = sdl, controller
        self._numbers = {
            "left x": sdl.SDL_CONTROLLER_AXIS_LEFTX,
            "left y": sdl.SDL_CONTROLLER_AXIS_LEFTY,
            "right x": sdl.SDL_CONTROLLER_AXIS_RIGHTX,
            "right y": sdl.SDL_CONTROLLER_AXIS_RIGHTY,
        }

    @classmethod
    def first(cls, sdl: Any) -> "SdlPad | None":  # noqa: ANN401
        """The first controller there is; None without one. Leaves the process's signals alone."""
        sdl.SDL_SetHint(b"SDL_NO_SIGNAL_HANDLERS", b"1")
        sdl.SDL_SetHint(b"SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS", b"1")
        if sdl.SDL_Init(sdl.SDL_INIT_GAMECONTROLLER) != 0:
            return None
        sdl.SDL_GameControllerUpdate()
        for number in range(sdl.SDL_NumJoysticks()):
            if sdl.SDL_IsGameController(number):
                controller = sdl.SDL_GameControllerOpen(number)
                return cls(sdl, controller) if controller else None
        return None

    def axes(self) -> Mapping[str, float] | None:
        """Up and right positive; None once it is unplugged."""
        self._sdl.SDL_GameControllerUpdate()
        if not self._sdl.SDL_GameControllerGetAttached(self._controller):
            return None
        found = {}
        for name, number in self._numbers.items():
            value = self._sdl.SDL_GameControllerGetAxis(self._controller, number) / FULL_AXIS
            found[name] = max(-1.0, -value if name.endswith("y") else value)
        return found
