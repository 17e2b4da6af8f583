"""Foreign columns and units bound to this robot's channels."""

from decimal import Decimal
from pathlib import Path

import pytest

from mixer.errors import LogError, OptionError
from mixer.runs.log.mapping import Binding, Scale, ends_of, parse_mapping, to_us
from mixer.runs.log.read import open_log
from tests.plans import tipper_plan
from tests.runs.drives import with_text


@pytest.mark.parametrize(
    ("text", "binding"),
    [
        ("throttle=RC2", Binding("throttle", "RC2")),
        (" throttle = ch 3 : percent ", Binding("throttle", "ch 3", "percent")),
        ("throttle=a:b", Binding("throttle", "a:b")),
        ("throttle=a:b:unit", Binding("throttle", "a:b", "unit")),
        ("t_ms=clock:s", Binding("t_ms", "clock", "s")),
        ("throttle=:unit", Binding("throttle", ":unit")),
    ],
)
def test_spelling(text: str, binding: Binding) -> None:
    """NAME=COLUMN, with a known unit behind the last colon taken off."""
    assert parse_mapping([text]).bindings == (binding,)


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        (["throttle"], r"^map 'throttle' is no binding\n    remedy: write NAME=COLUMN"),
        (["=RC2"], "is no binding"),
        (["throttle="], "is no binding"),
        (["throttle=a", "throttle=b"], "throttle is bound twice"),
        (["t_ms=clock:percent"], "t_ms is not measured in percent\n    remedy: one of s, ms, us"),
        (
            ["throttle=RC2:s"],
            "throttle is not measured in s\n    remedy: one of us, percent, unit, zero_one",
        ),
    ],
)
def test_misspelling(texts: list[str], said: str) -> None:
    """A binding that cannot be meant is refused with what would be right."""
    with pytest.raises(OptionError, match=said):
        parse_mapping(texts)


@pytest.mark.parametrize(
    ("scale", "low", "quarter", "high"),
    [
        (Scale.PERCENT, "-100", "-50", "100"),
        (Scale.UNIT, "-1", "-0.5", "1"),
        (Scale.US, "1100", "1300", "2000"),
    ],
)
def test_scales_reach_the_ends(scale: Scale, low: str, quarter: str, high: str) -> None:
    """Full travel in any unit is the stick's own endpoint, and half travel is half way on its own side."""
    ends = (1100, 1500, 2000)

    assert [to_us(Decimal(value), scale, ends) for value in (low, quarter, high)] == [1100, 1300, 2000]


def test_zero_to_one() -> None:
    """0 to 1 runs straight from the low end to the high one."""
    assert [to_us(Decimal(v), Scale.ZERO_ONE, (1000, 1500, 2000)) for v in ("0", "0.25", "1")] == [
        1000,
        1250,
        2000,
    ]


def test_ends_of_stick_and_switch() -> None:
    """A stick brings its own ends; a switch the nominal ones."""
    assert ends_of(tipper_plan(), "tip") == (1000, 1500, 2000)
    assert ends_of(tipper_plan(), "arm") == (1000, 1500, 2000)


def test_foreign_log(tmp_path: Path) -> None:
    """A log of other origin reads like our own once its columns are bound."""
    text = "Time;Thr;Str;RC3;Arm\n" + "".join(f"{k * 0.02:.2f};{k};-0.5;0.75;1\n" for k in range(9))
    bindings = [
        "t_ms=Time:s",
        "throttle=Thr:percent",
        "steering=Str:unit",
        "tip=RC3:zero_one",
        "arm=Arm:unit",
    ]
    rows = list(open_log(with_text(tmp_path, text), tipper_plan(), parse_mapping(bindings)).rows())

    assert [row.t_us for row in rows] == [20_000 * k for k in range(9)]
    assert [row.pulses for row in rows] == [(1500 + 5 * k, 1250, 1750, 2000) for k in range(9)]


def test_binding_of_nothing(tmp_path: Path) -> None:
    """Binding a name the robot lacks, or a column the log lacks, is refused with the nearest."""
    text = "t_ms,throttle,steering,tip,arm\n0,1500,1500,1500,1000\n"
    with pytest.raises(
        LogError, match=r"steerin: the mapping binds a name .*\n    remedy: did you mean 'steering'\?"
    ):
        open_log(with_text(tmp_path, text), tipper_plan(), parse_mapping(["steerin=tip"]))
    with pytest.raises(LogError, match="stop_in: no column 'end2'"):
        open_log(with_text(tmp_path, text), tipper_plan(), parse_mapping(["stop_in=end2"]))


def test_relative_values_never_pass_for_pulses(tmp_path: Path) -> None:
    """A stick in ±1 read as µs is refused, not replayed as a dead channel."""
    text = "t_ms,throttle,steering,tip,arm\n" + "".join(f"{k * 20},{k / 10},0.5,0.1,1\n" for k in range(9))
    with pytest.raises(LogError, match=r"throttle: holds values such as 0\.1, not pulses in µs"):
        open_log(with_text(tmp_path, text), tipper_plan())
