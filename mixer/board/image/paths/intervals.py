"""Ranges of numbers of so many bits, as sets of remainders.

A range (low, high) of whole numbers stands for those numbers modulo 2^bits; it lies in the unsigned window
0 .. 2^bits - 1 or in the signed one, whichever holds it, so that both -500 .. 500 and 0 .. 65535 are ranges
of 16 bits.
"""

from typing import TypeAlias

Range: TypeAlias = tuple[int, int]


def full(bits: int) -> Range:
    """Every number."""
    return 0, (1 << bits) - 1


def unsigned(reach: Range, bits: int) -> Range:
    """The same numbers read without a sign."""
    low, high = reach
    if low >= 0:
        return reach
    if high < 0:
        return low + (1 << bits), high + (1 << bits)
    return full(bits)


def signed(reach: Range, bits: int) -> Range:
    """The same numbers read as two's complement."""
    low, high = reach
    half = 1 << (bits - 1)
    if high < half:
        return reach
    if low >= half:
        return low - 2 * half, high - 2 * half
    return -half, half - 1


def placed(low: int, high: int, bits: int) -> Range:
    """A range of whole numbers brought into one of the windows; everything where it fits into neither."""
    whole = 1 << bits
    if high - low >= whole:
        return full(bits)
    down = low // whole * whole
    low, high = low - down, high - down
    if high < whole:
        return low, high
    low, high = low - whole, high - whole
    return (low, high) if low >= -(whole >> 1) and high < whole >> 1 else full(bits)


def meet(one: Range, other: Range, bits: int) -> Range | None:
    """Numbers in both, or a few more; None where there are none."""
    if one == other:
        return one
    best: Range | None = None
    for read in (unsigned, signed):
        (low, high), (least, most) = read(one, bits), read(other, bits)
        both = max(low, least), min(high, most)
        if both[0] > both[1]:
            return None
        if best is None or both[1] - both[0] < best[1] - best[0]:
            best = both
    return best


def hull(one: Range, other: Range, bits: int) -> Range:
    """The smaller of the two windows' ranges that hold both."""
    if one == other:
        return one
    best = full(bits)
    for read in (unsigned, signed):
        (low, high), (least, most) = read(one, bits), read(other, bits)
        both = min(low, least), max(high, most)
        if both[1] - both[0] < best[1] - best[0]:
            best = both
    return best
