"""Pieces of a program that run as JavaScript, against rp2040js taking each instruction by itself.

A chip that is to stand at an address where no instruction is takes each by itself.
"""

import random
from collections.abc import Iterator

import pytest

from mixer.board.chip.rp2040 import Rp2040Chip
from tests.board.chip.rp2040_programs import built

pytestmark = [
    pytest.mark.needs_tool("arm-none-eabi-gcc"),
    pytest.mark.needs_tool("node"),
    pytest.mark.needs_tool("rp2040js"),
]

MS = 128_000
CONDITIONS = ("eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le")
LOW = ("r0", "r1", "r2", "r3", "r4", "r5")


def _instructions(dice: random.Random) -> Iterator[str]:
    """Instructions of every kind that a compiler writes, on low registers; at times a look at the flags.

    Register shifts by 0 are left out: rp2040js sets the carry there, which ARMv6-M does not (A6.7).
    """
    two = ("ands", "orrs", "eors", "bics", "adcs", "sbcs", "mvns", "tst", "cmp", "cmn", "muls", "rsbs")
    extend = ("uxtb", "uxth", "sxtb", "sxth")
    while True:
        d, n, m = (dice.choice(LOW) for _ in range(3))
        name = dice.choice(two)
        if name == "muls":
            yield f"muls {d}, {n}, {d}"
        elif name == "rsbs":
            yield f"rsbs {d}, {n}, #0"
        else:
            yield f"{name} {d}, {n}"
        yield f"{dice.choice(extend)} {d}, {n}"
        yield f"{dice.choice(('lsls', 'lsrs', 'asrs'))} {d}, {n}, #{dice.randrange(1, 32)}"
        yield f"{dice.choice(('adds', 'subs'))} {d}, {n}, #{dice.randrange(8)}"
        yield f"{dice.choice(('adds', 'subs'))} {d}, #{dice.randrange(256)}"
        yield f"{dice.choice(('adds', 'subs'))} {d}, {n}, {m}"
        yield f"{dice.choice(('movs', 'cmp'))} {d}, #{dice.randrange(256)}"
        yield f"mov r8, {d}\nadd {n}, r8\ncmp {m}, r8"
        at = 4 * dice.randrange(8)
        kind = dice.choice(("", "b", "h"))
        yield f"str{kind} {d}, [r7, #{at}]\nldr{kind} {n}, [r7, #{at}]"
        yield f"movs {d}, #{at}\nldrs{dice.choice('bh')} {n}, [r7, {d}]\nstr {n}, [r7, #{at}]"
        yield f"push {{{d}, r7}}\npop {{{n}, r7}}" if LOW.index(d) == LOW.index(n) else f"mov {d}, {n}"
        yield f"stmia r7!, {{r0, r1, r2}}\nsubs r7, #12\nldmia r7!, {{{m}}}\nsubs r7, #4"
        condition = dice.choice(CONDITIONS)
        yield f"b{condition} 1f\nmvns {d}, {d}\n1:"
        yield f"mrs r6, apsr\neors {d}, r6"


def _program(seed: int) -> str:
    dice = random.Random(seed)
    steps = _instructions(dice)
    text = "\\n".join(next(steps).replace("\n", "\\n") for _ in range(150))
    return f"""
    volatile uint32_t results[64], work[16], rounds;
    void mixed(uint32_t *state);
    __asm(".syntax unified\\n.thumb_func\\nmixed: push {{r4-r7, lr}}\\nmov r6, r8\\npush {{r6}}\\n"
        "mov r12, r0\\nldmia r0!, {{r1-r5}}\\n"
        "mov r0, r1\\nldr r7, =work\\n{text}\\nmov r7, r12\\nstmia r7!, {{r0-r5}}\\n"
        "pop {{r6}}\\nmov r8, r6\\npop {{r4-r7, pc}}\\n.ltorg\\n");
    int main(void)
    {{
        uint32_t state[6] = {{{seed}, 0x80000000, 0x7FFFFFFF, 0xFFFFFFFF, 1, 12345}};
        for (rounds = 0; rounds < 400; rounds++) {{
            mixed(state);
            for (uint32_t n = 0; n < 6; n++) {{
                results[(6 * rounds + n) % 64] += state[n];
                state[n] ^= state[n] >> 7 ^ rounds << 20;
            }}
        }}
        for (;;) {{ }}
    }}
    """


@pytest.mark.parametrize("seed", range(1, 4))
def test_pieces_do_what_single_instructions_do(seed: int) -> None:
    """Registers, flags, memory and time."""
    found = []
    for whole in (True, False):
        chip = Rp2040Chip(built(_program(seed)))
        if not whole:
            chip.run(1)
            chip.hang("vectors")
        rounds = []
        for at in range(4, 120, 4):
            chip.run(at * MS)
            rounds.append(chip.peek("rounds"))
        found.append((rounds, chip.peek("results"), chip.peek("work")))
        chip.close()
    assert found[0] == found[1]
    assert int.from_bytes(found[0][0][-1], "little") == 400
    assert len(set(found[0][0])) > 5, "time counts as well"
