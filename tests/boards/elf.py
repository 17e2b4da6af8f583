"""A reader for the 32-bit little-endian ELF files that board compilers write: what to load, and symbols.

Format: Tool Interface Standard, Executable and Linkable Format specification, version 1.2 (1995).
"""

import struct
from dataclasses import dataclass
from pathlib import Path

_DATA_AT = 0x800000  # where the AVR tool chain puts addresses of RAM, beside those of flash
_SYMBOL_TABLE = 2
_LOADED = 1


@dataclass(frozen=True, slots=True)
class Symbol:
    """A name's place in RAM or flash, and how many bytes it takes."""

    address: int
    size: int


@dataclass(frozen=True, slots=True)
class Firmware:
    """What goes into flash, and where the variables are."""

    flash: bytes
    symbols: dict[str, Symbol]
    flash_used: int
    ram_used: int


def read_firmware(path: Path) -> Firmware:
    """The flash image (initial values of variables included) and the symbols of a linked AVR program."""
    raw = path.read_bytes()
    if raw[:6] != b"\x7fELF\x01\x01":
        raise AssertionError(f"{path} is no 32-bit little-endian ELF file")
    (program_at, section_at) = struct.unpack_from("<II", raw, 28)
    (_, program_count, section_size, section_count) = struct.unpack_from("<4H", raw, 42)
    flash = bytearray()
    ram = 0
    for number in range(program_count):
        kind, offset, virtual, physical, in_file, in_memory = struct.unpack_from(
            "<6I", raw, program_at + 32 * number
        )
        if kind != _LOADED:
            continue
        if virtual >= _DATA_AT:
            ram = max(ram, virtual + in_memory - _DATA_AT - 0x100)
        if in_file:
            flash[len(flash) :] = bytes(max(0, physical + in_file - len(flash)))
            flash[physical : physical + in_file] = raw[offset : offset + in_file]
    sections = [
        struct.unpack_from("<10I", raw, section_at + section_size * number)
        for number in range(section_count)
    ]
    return Firmware(bytes(flash), _symbols(raw, sections, _DATA_AT), len(flash), ram)


def _symbols(raw: bytes, sections: list[tuple[int, ...]], ram_at: int) -> dict[str, Symbol]:
    found = {}
    for section in sections:
        if section[1] != _SYMBOL_TABLE:
            continue
        names_at = sections[section[6]][4]
        for at in range(section[4], section[4] + section[5], 16):
            name, value, size = struct.unpack_from("<III", raw, at)
            end = raw.index(b"\0", names_at + name)
            address = value - ram_at if value >= ram_at else value
            found[raw[names_at + name : end].decode("ascii")] = Symbol(address, size)
    return found


@dataclass(frozen=True, slots=True)
class Loaded:
    """What stands where when a program begins that needs no copying."""

    parts: list[tuple[int, bytes]]
    symbols: dict[str, Symbol]


def read_loaded(path: Path) -> Loaded:
    """The loadable parts of a linked ARM program at the addresses it runs at, and its symbols."""
    raw = path.read_bytes()
    (program_at, section_at) = struct.unpack_from("<II", raw, 28)
    (_, program_count, section_size, section_count) = struct.unpack_from("<4H", raw, 42)
    parts = []
    for number in range(program_count):
        kind, offset, virtual, _, in_file, _ = struct.unpack_from("<6I", raw, program_at + 32 * number)
        if kind == _LOADED and in_file and virtual >= 0x20000000:
            parts.append((virtual, raw[offset : offset + in_file]))
    sections = [
        struct.unpack_from("<10I", raw, section_at + section_size * number)
        for number in range(section_count)
    ]
    return Loaded(parts, _symbols(raw, sections, 1 << 32))
