"""Cycles of the ATmega328P's instructions, program counter of 16 bits.

Source: ATmega48A/PA/88A/PA/168A/PA/328/P data sheet (DS40002061), "Instruction Set Summary", column
#Clocks.
"""

from collections.abc import Mapping
from types import MappingProxyType

_ONE = """
    add adc sub subi sbc sbci and andi or ori eor com neg inc dec cp cpc cpi mov movw ldi in out lsr ror asr
    swap bset bclr bst bld nop wdr sleep break spm cpse sbrc sbrs sbic sbis brbs brbc
"""
_TWO = """
    adiw sbiw mul muls mulsu fmul fmuls fmulsu rjmp ijmp ld ldd lds st std sts push pop sbi cbi
"""
_THREE = ("jmp", "rcall", "icall", "lpm")
_FOUR = ("call", "ret", "reti")

CYCLES: Mapping[str, int] = MappingProxyType(
    {
        **dict.fromkeys(_ONE.split(), 1),
        **dict.fromkeys(_TWO.split(), 2),
        **dict.fromkeys(_THREE, 3),
        **dict.fromkeys(_FOUR, 4),
    }
)
"""By name; a branch not taken, a skip that does not skip."""
BRANCH_TAKEN = 2
"""Cycles of a conditional branch that is taken; a skip takes 1 and one for each word it skips."""
INTERRUPT_ENTRY = 4 + 3
"""Cycles until a handler's first instruction, the jump in the table of vectors included."""
