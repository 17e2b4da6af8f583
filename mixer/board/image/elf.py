"""A linked program as the compiler wrote it: what is flashed, its symbols, and for which machine.

Format: Tool Interface Standard, Executable and Linkable Format specification, version 1.2 (1995).
Addresses of code are those the machine counts: bytes of flash on the AVR, the address space on ARM.
"""

import hashlib
import struct
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from pathlib import Path

from mixer.errors import ImageError

LARGEST = 16 << 20
"""Bytes of a file that is still read: images of small boards are far smaller, debugging text included."""
RAM_AT = 0x800000
"""Where the AVR tool chain puts addresses of RAM, beside those of flash."""
_HEADER = struct.Struct("<16sHHIIIIIHHHHHH")
_PROGRAM = struct.Struct("<8I")
_SECTION = struct.Struct("<10I")
_SYMBOL = struct.Struct("<IIIBBH")
_LOADED = 1
_SYMBOLS, _FUNCTION, _OBJECT, _NO_KIND = 2, 2, 1, 0
_EXECUTABLE, _ABSOLUTE = 2, 0xFFF1
_NO_BITS, _TAKES_ROOM = 8, 2


class Machine(IntEnum):
    """The `e_machine` of the specification's register."""

    ARM = 40
    AVR = 83


@dataclass(frozen=True, slots=True)
class Symbol:
    """A name's address, and how many bytes it takes (0 where the assembler was not told)."""

    name: str
    address: int
    size: int
    is_code: bool


@dataclass(frozen=True)
class Part:
    """Bytes of the image as they are flashed, and the address where the program finds them."""

    address: int
    data: bytes
    is_code: bool
    """Whether instructions may stand there."""
    runs_at: int
    """The address that symbols give of it: of variables with initial values where they are in RAM."""
    flashed_at: int
    """Where it lies in flash, which on ARM need not be where it runs."""


@dataclass(frozen=True)
class Image:
    """A program."""

    where: str
    machine: int
    parts: tuple[Part, ...]
    symbols: Mapping[str, Symbol]
    """By name; of two equal ones a function comes before a label."""
    sha256: str
    """Of the whole file: this very ELF."""
    flags: int = 0
    """`e_flags`: on the AVR the instruction set it was linked for."""
    notes: Mapping[str, bytes] = field(default_factory=dict)
    """Sections that are not flashed, by name: what the tool chain tells of the device."""
    _names: list[Symbol] = field(default_factory=list, repr=False)

    def code(self, address: int, count: int) -> bytes:
        """Bytes of the program at an address; fewer or none where it has none."""
        for part in self.parts:
            if part.is_code and part.address <= address < part.address + len(part.data):
                return part.data[address - part.address :][:count]
        return b""

    def value(self, name: str) -> bytes | None:
        """The initial bytes of a variable; None where there is none of that name, or it has none."""
        symbol = self.symbols.get(name)
        if symbol is None:
            return None
        for part in self.parts:
            if part.runs_at <= symbol.address < part.runs_at + len(part.data):
                return part.data[symbol.address - part.runs_at :][: symbol.size]
        return None

    def routine_at(self, address: int) -> Symbol | None:
        """The routine, or the label in one, that an address comes after; None where there is none."""
        if not self._names:
            code = [symbol for symbol in self.symbols.values() if symbol.is_code]
            self._names.extend(sorted(code, key=lambda symbol: symbol.address))
        at = bisect_right([symbol.address for symbol in self._names], address) - 1
        return None if at < 0 else self._names[at]

    def symbol_at(self, address: int) -> str:
        """The address in words: ``0x1a2 (mix_tick+0x20)``."""
        near = self.routine_at(address)
        if near is None:
            return f"{address:#x}"
        beyond = f"+{address - near.address:#x}" if address > near.address else ""
        return f"{address:#x} ({near.name}{beyond})"


def read_image(path: Path) -> Image:
    """Read a linked ELF file. Raises ImageError where it is none, or is damaged."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise ImageError(f"{path} cannot be read: {error.strerror}", "name the linked ELF file") from None
    if len(raw) > LARGEST:
        raise ImageError(
            f"{path} is larger than {LARGEST >> 20} MB", "name the linked ELF file of the board"
        )
    return image_of(raw, str(path))


def image_of(raw: bytes, where: str) -> Image:
    """As `read_image`, of bytes."""
    if raw[:6] != b"\x7fELF\x01\x01":
        raise ImageError(
            f"{where} is no 32-bit little-endian ELF file",
            "name the file the linker wrote (.elf), not a .hex, .bin or .o",
        )
    try:
        return _read(raw, where)
    except (struct.error, IndexError, ValueError, UnicodeDecodeError):
        raise ImageError(f"{where} is a damaged ELF file", "build it again") from None


def _read(raw: bytes, where: str) -> Image:
    head = _HEADER.unpack_from(raw)
    _, kind, machine, _, _, programs_at, sections_at, flags, _, _, programs, _, sections, _ = head
    if kind != _EXECUTABLE:
        raise ImageError(
            f"{where} is not linked", "name the file the linker wrote (.elf), not an object file"
        )
    parts = [_part(raw, programs_at + _PROGRAM.size * at, machine) for at in range(programs)]
    tables = [_SECTION.unpack_from(raw, sections_at + _SECTION.size * at) for at in range(sections)]
    symbols: dict[str, Symbol] = {}
    for table in tables:
        if table[1] == _SYMBOLS:
            _read_symbols(raw, table, tables[table[6]][4], machine, symbols)
    digest = hashlib.sha256(raw).hexdigest()
    notes = _notes(raw, tables, head[-1])
    return Image(where, machine, tuple(part for part in parts if part), symbols, digest, flags, notes)


def _notes(raw: bytes, tables: list[tuple[int, ...]], names: int) -> dict[str, bytes]:
    """Sections that take no room on the board."""
    found = {}
    for name_at, kind, flags, _, offset, size, *_ in tables:
        if kind not in (0, _NO_BITS) and not flags & _TAKES_ROOM:
            start = tables[names][4] + name_at
            found[raw[start : raw.index(b"\0", start)].decode("ascii")] = raw[offset : offset + size]
    return found


def _part(raw: bytes, at: int, machine: int) -> Part | None:
    kind, offset, virtual, physical, in_file, _, flags, _ = _PROGRAM.unpack_from(raw, at)
    if kind != _LOADED or not in_file:
        return None
    data = raw[offset : offset + in_file]
    if len(data) < in_file:
        raise ValueError("cut short")
    address = physical if machine == Machine.AVR else virtual
    in_ram = machine == Machine.AVR and virtual >= RAM_AT
    return Part(
        address, data, not in_ram and (machine == Machine.AVR or bool(flags & 1)), virtual, physical
    )


def _read_symbols(
    raw: bytes, table: tuple[int, ...], names_at: int, machine: int, found: dict[str, Symbol]
) -> None:
    for at in range(table[4], table[4] + table[5], _SYMBOL.size):
        name_at, value, size, info, _, section = _SYMBOL.unpack_from(raw, at)
        kind = info & 15
        if section in (0, _ABSOLUTE) or kind not in (_FUNCTION, _OBJECT, _NO_KIND) or not name_at:
            continue
        start = names_at + name_at
        name = raw[start : raw.index(b"\0", start)].decode("utf-8")
        is_code = kind == _FUNCTION or (
            kind == _NO_KIND and not (machine == Machine.AVR and value >= RAM_AT)
        )
        if name.startswith("$") or (
            name in found and kind != _FUNCTION
        ):  # $t, $d: ARM's marks of code and data
            continue
        address = value & ~1 if machine == Machine.ARM and is_code else value
        found[name] = Symbol(name, address, size, is_code)
