"""A game controller as a source."""

import ctypes
import sys
import warnings
from collections.abc import Mapping

import pytest

from tests.live.benches import Bench
from tui.pad import AXES, CENTRE, PadSource, SdlPad, pad_source, without_centre


class FakePad:
    """Axes set by the test."""

    def __init__(self) -> None:
        self.now: dict[str, float] | None = dict.fromkeys(AXES, 0.0)

    def axes(self) -> Mapping[str, float] | None:
        """As set."""
        return self.now


def test_its_sticks_drive_the_robot(bench: Bench) -> None:
    """Axes go to the sticks in the order of the plan; a centre that wanders a little still arms."""
    pad = FakePad()
    bench.session.pad = PadSource(bench.session.sticks, pad)
    bench.session.use("pad")
    assert pad.now is not None
    pad.now["left y"] = CENTRE * 0.9
    assert bench.arm().guard.state == "live"
    pad.now |= {"left y": 0.5, "right x": -1.0}
    snapshot = bench.run(0.3)
    assert snapshot.transport.mode == "pad"
    scaled = {source.name: source.scaled for source in snapshot.sources}
    assert scaled["steering"] == -16384
    assert scaled["throttle"] == pytest.approx(16384 * (0.5 - CENTRE) / (1 - CENTRE), abs=40)


def test_unplugged_it_is_a_radio_switched_off(bench: Bench) -> None:
    """No pulses arrive, and the guard stops the robot; plugged in again the signal is back."""
    pad = FakePad()
    bench.session.pad = PadSource(bench.session.sticks, pad)
    bench.session.use("pad")
    bench.arm()
    axes, pad.now = pad.now, None
    assert bench.run(0.5).guard.state == "stopped"
    pad.now = axes
    assert bench.run(0.5).guard.state == "resting"


def test_the_centre_is_cut_out_without_a_jump() -> None:
    """Odd, zero within, continuous at its edge, full at the end."""
    assert without_centre(CENTRE) == without_centre(-CENTRE) == 0.0
    assert without_centre(CENTRE + 1e-6) == pytest.approx(0, abs=1e-5)
    assert (without_centre(1.0), without_centre(-1.0)) == (1.0, -1.0)


def test_without_the_package_there_is_none(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is raised: the bench just has no controller."""
    monkeypatch.setitem(sys.modules, "sdl2", None)
    assert pad_source(bench.session.sticks) is None


@pytest.mark.needs_tool("sdl2")
def test_a_virtual_controller_is_read() -> None:
    """The library's own virtual joystick: its axes come through, up and right positive."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import sdl2  # type: ignore[import-not-found]  # noqa: PLC0415
    assert sdl2.SDL_Init(sdl2.SDL_INIT_GAMECONTROLLER) == 0
    number = sdl2.SDL_JoystickAttachVirtual(sdl2.SDL_JOYSTICK_TYPE_GAMECONTROLLER, 6, 15, 0)
    joystick = sdl2.SDL_JoystickOpen(number)
    pad = SdlPad.first(sdl2)
    assert pad is not None
    for axis, value in ((0, -32768), (1, 16384), (2, 32767), (3, -32768)):
        sdl2.SDL_JoystickSetVirtualAxis(joystick, axis, ctypes.c_int16(value))
    assert pad.axes() == pytest.approx(
        {"left x": -1.0, "left y": -0.5, "right x": 1.0, "right y": 1.0}, abs=1e-3
    )
    sdl2.SDL_JoystickClose(joystick)
    sdl2.SDL_JoystickDetachVirtual(number)
    assert pad.axes() is None
    sdl2.SDL_Quit()
