"""Ports: the promises every one keeps, and what a person is told when one cannot be had."""

import subprocess
import sys
from pathlib import Path

import pytest

from mixer.errors import (
    LinkError,
    MissingToolError,
    NoPortError,
    PortBusyError,
    PortGoneError,
    PortStuckError,
    WrongDeviceError,
)
from mixer.link.ports import Port
from mixer.link.serial_port import describe_port, list_ports, open_serial
from mixer.testing.port import FarEnd, check_port
from tests.link.loopback import LoopbackPort, loopback_pair
from tests.link.ptys import PtyFarEnd


def serial_over_pty() -> tuple[Port, FarEnd]:
    """Our serial port on one end of a pty, the test on the other."""
    far = PtyFarEnd()
    return open_serial(far.path), far


def test_the_loopback_keeps_the_promises() -> None:
    """The loopback conforms."""
    check_port(loopback_pair)


@pytest.mark.needs_tool("serial")
def test_the_serial_port_keeps_the_promises() -> None:
    """What pyserial gives, behind our interface, conforms over a pty."""
    check_port(serial_over_pty)


def test_the_check_finds_a_port_that_swallows_bytes() -> None:
    """The conformance check can fail: a port that drops zeros is found out."""

    class Leaky(Port):
        def __init__(self, inner: LoopbackPort) -> None:
            super().__init__("leaky")
            self._inner = inner

        def _read_some(self, wait_s: float) -> bytes:
            return self._inner.read(wait_s).replace(b"\0", b"")

        def _write_all(self, data: bytes) -> None:
            self._inner.write(data)

        def _close(self) -> None:
            self._inner.close()

    def leaky_pair() -> tuple[Port, FarEnd]:
        near, far = loopback_pair()
        return Leaky(near), far

    with pytest.raises(AssertionError, match=r"^(reading changed|only 255)"):
        check_port(leaky_pair)


@pytest.mark.needs_tool("serial")
def test_a_port_that_is_not_there_is_named_with_those_that_are() -> None:
    """A mistyped path says so, and what there is instead."""
    with pytest.raises(NoPortError, match=r"^there is no port /dev/ttyNOSUCH\n    remedy: there (are|is)"):
        open_serial("/dev/ttyNOSUCH")


@pytest.mark.needs_tool("serial")
@pytest.mark.parametrize("path", ["/", "/dev/null", __file__])
def test_what_is_no_serial_port_is_refused(path: str) -> None:
    """A directory, another device and a file are not mistaken for ports."""
    with pytest.raises(WrongDeviceError, match=r"cannot be used as a serial port at 115200 baud"):
        open_serial(path)


@pytest.mark.needs_tool("serial")
def test_a_busy_port_is_refused_at_once_and_free_after_closing() -> None:
    """Two programs never share a port; closing gives it back."""
    with PtyFarEnd() as far:
        with open_serial(far.path), pytest.raises(PortBusyError, match=r"is in use by another program"):
            open_serial(far.path)
        open_serial(far.path).close()


@pytest.mark.needs_tool("serial")
@pytest.mark.skipif(sys.platform == "win32", reason="permissions differ there")
def test_a_port_of_another_user_is_refused_with_the_remedy() -> None:
    """Permission denied names the group to join. Run as another user, since root may open anything."""
    program = (
        "import os, sys, serial.tools.list_ports\n"
        "from mixer.link.serial_port import open_serial\n"
        "from mixer.errors import PortDeniedError\n"
        "if os.geteuid() == 0: os.setuid(65534)\n"
        "try: open_serial(sys.argv[1])\n"
        "except PortDeniedError as error: print(error)\n"
    )
    with PtyFarEnd() as far:
        Path(far.path).chmod(0)
        done = subprocess.run(
            [sys.executable, "-c", program, far.path],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            cwd=Path(__file__).parents[2],
        )

    assert done.stdout.startswith(f"{far.path} may not be opened by this user\n    remedy: "), done.stderr


@pytest.mark.needs_tool("serial")
def test_a_pulled_plug_shows_in_reading_and_writing() -> None:
    """Both directions say the same when the far end closes, and closing is still harmless."""
    far = PtyFarEnd()
    port = open_serial(far.path)
    far.close()

    with pytest.raises(PortGoneError):
        port.read(0.1)
    with pytest.raises(PortGoneError):
        port.write(b"x")
    port.close()


@pytest.mark.needs_tool("serial")
def test_a_board_that_takes_no_bytes_is_told() -> None:
    """A full pipe ends in an error, not in a hang."""
    with PtyFarEnd() as far, open_serial(far.path) as port, pytest.raises(PortStuckError):
        port.write(bytes(1_000_000))


def test_pyserial_missing_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without pyserial the error is ours and carries the remedy."""
    monkeypatch.setitem(sys.modules, "serial", None)

    with pytest.raises(MissingToolError, match=r"pip install pyserial cobs"):
        open_serial("/dev/ttyUSB0")
    with pytest.raises(MissingToolError):
        list_ports()


def test_ports_have_names_people_recognise() -> None:
    """The maker's chip, the product's own name and its number; nothing where nothing is known."""
    assert describe_port("/dev/ttyUSB0", 0x1A86, "USB2.0-Serial", None).name == (
        "CH340 USB serial adapter, USB2.0-Serial"
    )
    assert describe_port("COM7", 0x2341, None, "5573").name == "Arduino board, no. 5573"
    assert describe_port("/dev/ttyACM0", 0x9999, None, None).name == "USB serial port"
    assert not describe_port("/dev/ttyS0", None, "n/a", None).is_usb


def test_only_one_module_knows_pyserial() -> None:
    """No other file of the package imports it, so its exceptions have one door."""
    package = Path(__file__).parents[2] / "mixer"
    knowing = [
        path.name
        for path in package.rglob("*.py")
        if any(
            line.strip().startswith(("import serial", "from serial"))
            for line in path.read_text().splitlines()
        )
    ]

    assert knowing == ["serial_port.py"]


def test_link_errors_are_also_the_systems_own() -> None:
    """Code that catches OSError catches them, and the message keeps its remedy."""
    error = PortGoneError("it is gone", "plug it in")

    assert isinstance(error, OSError)
    assert isinstance(error, LinkError)
    assert str(error) == "it is gone\n    remedy: plug it in"
