"""Tables in flash: what stands in them is what the core makes of a stick, to the last number."""

import random
import re
from pathlib import Path

import pytest

from mixer.core.plan import Plan
from mixer.core.tick import bend
from mixer.lower.c.program import source_text, table_bytes
from mixer.lower.c.tick.tables import SEGMENT, segments_of
from tests.lower.c_exports import compile_check, plan_of_robot, run_check, write_export, write_mix

ARRAY = re.compile(r"static const uint\d+_t amount_(\w+)\[(\d+)\] IN_FLASH = \{([^}]*)\};")


def arrays_of(source: str) -> dict[str, list[int]]:
    """The tables of a mix.c by their names, each as long as it is said to be."""
    found = {}
    for name, count, text in ARRAY.findall(source):
        found[name] = [int(number) for number in text.split(",")]
        assert len(found[name]) == int(count)
    return found


def amounts_in(source: str) -> list[int]:
    """What the C reads at each place: the sum that its function `amount` says, counted modulo 65,536."""
    arrays = arrays_of(source)
    sums = [
        arrays["base"][at >> 4] + arrays["slope"][at >> 4] * (at & 15) + more
        for at, more in enumerate(arrays["more"])
    ]
    return [total % 65536 for total in sums]


def bent(plan: Plan, stick: int, position: int) -> list[int]:
    """What the core makes of a stick at each µs from its centre on, with a switch in a position."""
    own = plan.sticks[stick]
    pulses = [0] * len(plan.channels)
    found = []
    for distance in range(max(own.low_span_us, own.high_span_us) + 1):
        pulses[own.channel] = own.centre_us + distance
        found.append(int(bend(own, pulses, [position] * len(plan.switches), 0).rated))
    return found


def test_equal_sticks_share_one_table_of_what_the_core_makes_of_them() -> None:
    """The tank's sticks are alike: one table, of each µs from the centre to the end."""
    plan = plan_of_robot("tank_pair")
    assert amounts_in(source_text(plan, "x")) == bent(plan, 0, 0) == bent(plan, 1, 0)


def test_every_shape_of_every_stick_has_its_table() -> None:
    """The carrier's two driving sticks by three shapes: each table begins with a segment."""
    plan = plan_of_robot("sample_carrier")
    held = amounts_in(source_text(plan, "x"))
    begins = range(0, len(held), SEGMENT)
    for stick in (0, 1):
        for position in range(3):
            wanted = bent(plan, stick, position)
            assert any(held[begin : begin + len(wanted)] == wanted for begin in begins)
    assert 6 * 590 < table_bytes(plan) < 6 * 610


def test_numbers_come_out_of_their_segments_as_they_went_in() -> None:
    """Curves drawn at random, kinks at any place; what bytes do not hold is refused."""
    draw = random.Random(4)
    for _ in range(40):
        numbers, steep = [0], draw.randrange(1, 60)
        for _ in range(draw.randrange(1, 500)):
            numbers.append(min(numbers[-1] + draw.randrange(steep), 16384))
        held = segments_of(numbers)
        assert held is not None
        assert [held.number(at) for at in range(len(numbers))] == numbers
        assert all(0 <= byte <= 255 for byte in (*held.slope, *held.more))
    assert segments_of([0] * 8 + [600] * 8) is None


def test_without_tables_no_array_stands_in_the_mix() -> None:
    """`--no-tables` calculates everything, and nothing of flash is left in the text."""
    text = source_text(plan_of_robot("tank_pair"), "x", tables=False)
    assert "IN_FLASH" not in text
    assert "pgmspace" not in text


@pytest.mark.needs_tool("gcc")
def test_both_forms_pass_and_a_wrong_slope_is_found(tmp_path: Path) -> None:
    """The robot's own vectors with tables, calculated, and with one slope too flat."""
    plan = plan_of_robot("tank_pair")
    write_export(tmp_path, plan)
    tabled = (tmp_path / "mix.c").read_text(encoding="utf-8")
    write_mix(tmp_path, plan, "0123456789ab", tables=False)
    calculated = (tmp_path / "mix.c").read_text(encoding="utf-8")
    text = next(text for name, _, text in ARRAY.findall(tabled) if name == "slope")
    last = text.rstrip().rsplit(" ", 1)
    wrong = tabled.replace(text, f"{last[0]} {int(last[1]) - 20}\n")
    for source, code in ((tabled, 0), (calculated, 0), (wrong, 1)):
        (tmp_path / "mix.c").write_text(source, encoding="utf-8")
        assert compile_check(tmp_path, "gcc").returncode == 0
        assert run_check(tmp_path).returncode == code
