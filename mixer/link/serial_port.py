"""Serial ports through pyserial, imported here and nowhere else, on use. Its exceptions end here.

What an open port can do, by platform, was learnt by trying on Linux: a pulled plug shows as
SerialException from `read` and `write`, as a plain OSError from `in_waiting`, and reopening the same path
works once it is back. Ports are opened for this program alone.
"""

import errno
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, final

from mixer.errors import (
    LinkError,
    MissingToolError,
    NoPortError,
    PortBusyError,
    PortDeniedError,
    PortStuckError,
    WrongDeviceError,
)
from mixer.link.ports import Port, gone

BAUD = 115_200
WRITE_WAIT_S = 1.0

_CHIPS: Mapping[int, str] = MappingProxyType(
    {
        0x0403: "FTDI USB serial adapter",
        0x067B: "Prolific USB serial adapter",
        0x10C4: "CP210x USB serial adapter",
        0x1A86: "CH340 USB serial adapter",
        0x2341: "Arduino board",
        0x2A03: "Arduino board",
    }
)
"""USB vendor numbers (registered with the USB-IF) of the makers whose chips sit on small boards."""


@dataclass(frozen=True, slots=True)
class PortInfo:
    """A serial port this machine has now."""

    path: str
    """What `open_serial` takes: ``/dev/ttyUSB0``, ``COM3``."""
    name: str
    """What people recognise: ``CH340 USB serial adapter, USB2.0-Serial``."""
    is_usb: bool


def list_ports() -> tuple[PortInfo, ...]:
    """The serial ports of this machine, plugged-in ones first."""
    _serial()
    from serial.tools import list_ports as listing  # type: ignore[import-untyped] # noqa: PLC0415

    found = [
        describe_port(port.device, port.vid, port.product, port.serial_number)
        for port in listing.comports()
    ]
    return tuple(sorted(found, key=lambda port: (not port.is_usb, port.path)))


def describe_port(path: str, vendor: int | None, product: str | None, serial: str | None) -> PortInfo:
    """A name people recognise, from what the operating system knows of a port."""
    if vendor is None:
        return PortInfo(path, "built-in serial port", is_usb=False)
    parts = [_CHIPS.get(vendor, "USB serial port"), product, f"no. {serial}" if serial else None]
    return PortInfo(path, ", ".join(part for part in parts if part), is_usb=True)


def open_serial(path: str, baud: int = BAUD) -> Port:
    """Open a serial port for this program alone, 8 bits, no parity, 1 stop bit.

    Raises:
        NoPortError, PortDeniedError, PortBusyError, WrongDeviceError: why it cannot be opened.
        MissingToolError: pyserial is not installed.
    """
    serial = _serial()
    try:
        device = serial.Serial(path, baud, timeout=0.1, write_timeout=WRITE_WAIT_S, exclusive=True)
    except (OSError, ValueError) as error:
        raise _why_not_open(path, baud, error) from None
    return SerialPort(path, device, serial.SerialTimeoutException)


@final
class SerialPort(Port):
    """An open serial port. Make one with `open_serial`."""

    def __init__(self, name: str, device: Any, stuck: type[Exception]) -> None:  # noqa: ANN401
        super().__init__(name)
        self._device = device
        self._stuck = stuck

    def _read_some(self, wait_s: float) -> bytes:
        try:
            if self._device.timeout != wait_s:
                self._device.timeout = wait_s
            first: bytes = self._device.read(1)
            waiting: int = self._device.in_waiting if first else 0
            return first + self._device.read(waiting) if waiting else first
        except OSError:
            raise gone(self.name) from None

    def _write_all(self, data: bytes) -> None:
        try:
            self._device.write(data)
        except self._stuck:
            said = f"{self.name} has taken no bytes for {WRITE_WAIT_S:g} s"
            raise PortStuckError(said, "check that the board runs and listens") from None
        except OSError:
            raise gone(self.name) from None

    def _close(self) -> None:
        try:
            self._device.close()
        except OSError:
            return


def _serial() -> Any:  # noqa: ANN401
    try:
        import serial  # type: ignore[import-untyped]  # noqa: PLC0415
    except ImportError:
        raise MissingToolError(
            "serial ports need the package pyserial", "pip install pyserial cobs"
        ) from None
    return serial


def _why_not_open(path: str, baud: int, error: Exception) -> LinkError:
    """The error that says what a person can do. Windows gives no number, only words."""
    number, words = getattr(error, "errno", None), str(error)
    if number in {errno.EAGAIN, errno.EBUSY} or "exclusively lock" in words:
        return PortBusyError(
            f"{path} is in use by another program", "close that program, or unplug and replug"
        )
    if number in {errno.ENOENT, errno.ENXIO, errno.ENODEV} or "FileNotFoundError" in words:
        return NoPortError(f"there is no port {path}", _ports_there())
    if "PermissionError" in words and number is None:
        return PortBusyError(
            f"{path} is in use by another program", "close that program, or unplug and replug"
        )
    if number in {errno.EACCES, errno.EPERM}:
        remedy = (
            "add yourself to the group that owns it (often: sudo usermod -aG dialout $USER), log in anew"
        )
        return PortDeniedError(f"{path} may not be opened by this user", remedy)
    said = f"{path} cannot be used as a serial port at {baud} baud"
    return WrongDeviceError(said, f"give the path of a serial port; {_ports_there()}")


def _ports_there() -> str:
    there = ", ".join(f"{port.path} ({port.name})" for port in list_ports())
    return f"there are: {there}" if there else "there is none now: plug the board in"
