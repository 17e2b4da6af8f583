"""What the RP2040 is flashed with: the chip's ROM must take it, and the boot drive must understand it."""

import shutil
import struct
import subprocess
import zlib
from pathlib import Path

import pytest

from tests.board.images import FIRMWARE, built

pytestmark = [pytest.mark.needs_tool("arm-none-eabi-gcc"), pytest.mark.needs_tool("gcc")]

BOOT = 252
"""The boot stage without its check sum (RP2040 data sheet, 2.8.1.3.1)."""


def _crc_32_mpeg_2(data: bytes) -> int:
    """CRC-32 with 04C11DB7 from FFFFFFFF, highest bit first; zlib has it lowest bit first and inverted."""

    def turned(value: int, bits: int) -> int:
        return int(f"{value:0{bits}b}"[::-1], 2)

    return turned(zlib.crc32(bytes(turned(byte, 8) for byte in data)) ^ 0xFFFFFFFF, 32)


def test_check_sum_is_the_published_one() -> None:
    """The catalogue of parametrised CRC algorithms (G. Cook) gives this for CRC-32/MPEG-2."""
    assert _crc_32_mpeg_2(b"123456789") == 0x0376E6E7


def test_rom_takes_the_boot_stage() -> None:
    """Its last word is the check sum of the rest."""
    image = built("rp2040", "firmware.bin")
    assert struct.unpack_from("<I", image, BOOT)[0] == _crc_32_mpeg_2(image[:BOOT])


def test_boot_stage_is_followed_by_vectors_that_point_into_ram() -> None:
    """What the boot stage takes for granted."""
    image = built("rp2040", "firmware.bin")
    stack, start = struct.unpack_from("<II", image, BOOT + 4)
    (end,) = struct.unpack_from("<I", image, BOOT + 4 + 7 * 4)
    assert stack == 0x20041000
    assert 0x20000000 < start < end
    assert start & 1, "a Thumb address"
    assert end - 0x20000000 == len(image) - 256, "the boot stage copies all of the image and no more"


def test_boot_drive_gets_every_byte_at_its_address() -> None:
    """The UF2 specification (github.com/microsoft/uf2): blocks of 512 bytes, read here from its table."""
    image = built("rp2040", "firmware.bin")
    packed = built("rp2040", "firmware.uf2")
    blocks = [packed[at : at + 512] for at in range(0, len(packed), 512)]
    flash = {}
    for number, block in enumerate(blocks):
        first, second, flags, address, size, index, total, family = struct.unpack_from("<8I", block)
        assert (first, second) == (0x0A324655, 0x9E5D5157)
        assert struct.unpack_from("<I", block, 508) == (0x0AB16F30,)
        assert (flags, size, family) == (0x2000, 256, 0xE48BFF56)
        assert (index, total) == (number, len(blocks))
        assert address % 256 == 0
        flash.update({address + at: byte for at, byte in enumerate(block[32 : 32 + size])})
    assert bytes(flash[0x10000000 + at] for at in range(len(image))) == image


def test_a_changed_boot_stage_is_not_packed(tmp_path: Path) -> None:
    """Rather than a board that stays dark; and it is told what the right check sum is."""
    shutil.copy(FIRMWARE / "uf2.c", tmp_path)
    subprocess.run(["gcc", "uf2.c", "-o", "uf2"], cwd=tmp_path, check=True)
    image = bytearray(built("rp2040", "firmware.bin"))
    image[9] ^= 1
    (tmp_path / "image.bin").write_bytes(image)
    done = subprocess.run(
        ["./uf2", "image.bin", "image.uf2"], cwd=tmp_path, check=False, capture_output=True, text=True
    )
    assert done.returncode == 1
    assert f"must be 0x{_crc_32_mpeg_2(bytes(image[:BOOT])):08X}" in done.stderr
    assert not (tmp_path / "image.uf2").exists()
