"""Cycles of the Cortex-M0+ with memory that never waits and the multiplier of one cycle.

Source: Cortex-M0+ Technical Reference Manual (ARM DDI 0484C), table 3-1 "Cortex-M0+ instruction summary".
The RP2040 has that multiplier, and its SRAM answers in one cycle unless another master asks the same bank
(RP2040 data sheet, "SRAM" and "Bus Fabric"): contention is not counted. Where the table gives two numbers,
the larger stands here (a load or store in one cycle is the single-cycle port's alone).
"""

from collections.abc import Mapping
from types import MappingProxyType

_ONE = """
    lsls lsrs asrs adds subs movs cmp ands eors adcs sbcs rors tst rsbs cmn orrs muls bics mvns add mov adr
    sub sxth sxtb uxth uxtb rev rev16 revsh cps nop yield sev b.c bkpt
"""
_TWO = "ldr str ldrb strb ldrh strh ldrsb ldrsh b bx blx wfe wfi"
_THREE = ("bl", "mrs", "msr", "dsb", "dmb", "isb")

CYCLES: Mapping[str, int] = MappingProxyType(
    {
        **dict.fromkeys(_ONE.split(), 1),
        **dict.fromkeys(_TWO.split(), 2),
        **dict.fromkeys(_THREE, 3),
        **dict.fromkeys(("ldm", "stm", "push", "pop"), 1),
        "pop.pc": 3,
    }
)
"""By name; a branch that is not taken. Those that move many registers take one more for each of them, the
program counter of a return counted as one (the manual's 3+N "where N is the number of elements")."""
BRANCH_TAKEN = 2
"""Cycles of a conditional branch that is taken, and of whatever else writes the program counter."""
SRAM = (0x20000000, 0x20042000)
"""Addresses of the RP2040's memory (its data sheet, "Address Map"): where code has to stand."""
BUSES = (
    (*SRAM, 0, 0),
    (0x40000000, 0x50000000, 2, 3),
    (0x50000000, 0x60000000, 0, 0),
    (0xD0000000, 0xD0000180, 0, 0),
    (0xE0000000, 0xE0100000, 0, 0),
)
"""Begin and end of what answers, and the cycles that a load and a store there wait: SRAM, peripherals
behind the APB bridge (RP2040 data sheet, "APB Bridge": a load takes three cycles of the bus, a store four),
those on the fast bus, the single-cycle port, the core's own. What is not here, as flash behind its cache,
may wait longer."""
FRAME = 36
"""Bytes that an exception puts on the stack before its handler begins: eight words, one to align them."""
INTERRUPT_ENTRY, INTERRUPT_EXIT = 15, 13
"""Cycles of an exception's entry and return, in memory that never waits (entry by the manual)."""
