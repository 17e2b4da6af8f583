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
        (["t_ms=clock:percent"], "t_ms is not measured in percent\n    remedy: one of s, ms, us, ns, iso"),
        (
            ["throttle=RC2:s"],
            "throttle is not measured in s\n    remedy: one of us, percent, unit, zero_one, LOW..HIGH",
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

    reach = parse_mapping([f"throttle=x:{scale.value}"]).range_of("throttle")
    found = [to_us(Decimal(value), scale, ends, reach) for value in (low, quarter, high)]
    assert found == [1100, 1300, 2000]


def test_zero_to_one() -> None:
    """0 to 1 runs straight from the low end to the high one."""
    ends, reach = (1000, 1500, 2000), (Decimal(0), Decimal(1))
    found = [to_us(Decimal(value), Scale.ZERO_ONE, ends, reach) for value in ("0", "0.25", "1")]
    assert found == [1000, 1250, 2000]


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


HEADER = "t_ms,throttle,steering,tip,arm\n"


def read(folder: Path, text: str, *bindings: str) -> tuple[list[int], list[tuple[int, ...]], str]:
    """Times and pulses of a log, and all that was told about it."""
    log = open_log(with_text(folder, text), tipper_plan(), parse_mapping(bindings))
    rows = list(log.rows())
    return [row.t_us for row in rows], [row.pulses for row in rows], "\n".join(map(str, log.notices))


@pytest.mark.parametrize(
    ("span", "values"),
    [
        ("-90..90", "-90 -45 0 90"),
        ("0..180", "0 45 90 180"),
        ("90..-90", "90 45 0 -90"),
        ("0.5..2.5", "0.5 1 1.5 2.5"),
    ],
)
def test_any_range(tmp_path: Path, span: str, values: str) -> None:
    """Degrees or whatever: the range's ends are the stick's, its middle is the centre; turned round too."""
    text = "t_ms,angle,steering,tip,arm\n" + "".join(
        f"{k * 20},{value},1500,1500,1000\n" for k, value in enumerate(values.split())
    )
    _, pulses, _ = read(tmp_path, text, f"throttle=angle:{span}")
    assert [row[0] for row in pulses] == [1000, 1250, 1500, 2000]


@pytest.mark.parametrize(
    ("unit", "first", "step"),
    [("s", 1732558000.5, 0.02), ("ms", 1732558000500, 20), ("us", 1732558000500000, 20_000),
     ("ns", 1732558000500000000, 20_000_000)],
)  # fmt: skip
def test_times_that_count_from_1970(tmp_path: Path, unit: str, first: float, step: float) -> None:
    """Epoch times in any unit keep their distances to the µs."""
    text = HEADER + "".join(f"{first + k * step!r},1500,1500,1500,1000\n" for k in range(9))
    times, _, _ = read(tmp_path, text, f"t_ms=t_ms:{unit}")
    assert [time - times[0] for time in times] == pytest.approx([20_000 * k for k in range(9)], abs=1)


@pytest.mark.parametrize("bindings", [(), ("t_ms=t_ms:iso",)])
@pytest.mark.parametrize("zone", ["", "Z", "+02:00"])
def test_dates_with_times_of_day(tmp_path: Path, zone: str, bindings: tuple[str, ...]) -> None:
    """ISO 8601, with a zone or without, across midnight."""
    stamps = ["2026-11-25T23:59:59.980", "2026-11-26T00:00:00.000", "2026-11-26 00:00:00.020"]
    text = HEADER + "".join(f"{stamp}{zone},1500,1500,1500,1000\n" for stamp in stamps)
    times, _, told = read(tmp_path, text, *bindings)
    assert [time - times[0] for time in times] == [0, 20_000, 40_000]
    assert "read as such (ISO 8601)" in told


def test_percent_signs(tmp_path: Path) -> None:
    """12 % and 12% are 12 percent; without a binding the column is named as one that is no pulse."""
    text = HEADER + "".join(f"{k * 20},{k * 10}%,-50 %,1500,1000\n" for k in range(9))
    _, pulses, _ = read(tmp_path, text, "throttle=throttle:percent", "steering=steering:percent")
    assert [row[:2] for row in pulses] == [(1500 + 50 * k, 1250) for k in range(9)]
    with pytest.raises(LogError, match="steering: holds values such as -50, not pulses in µs"):
        open_log(with_text(tmp_path, text), tipper_plan())


def test_a_title_before_the_header(tmp_path: Path) -> None:
    """One line or two above the names are passed over and told; line numbers stay the file's."""
    text = (
        "Drive of Sunday, afternoon\nrecorded by hand\n"
        + HEADER
        + "0,1500,1500,1500,1000\n20,x,1500,1500,1000\n40,1,1,1,1\n"
    )
    log = open_log(with_text(tmp_path, text), tipper_plan())
    with pytest.raises(LogError, match=r"drive\.csv:5: throttle: 'x' is no pulse"):
        list(log.rows())
    assert any(
        "drive.csv:1: a title before the header, skipped (2 times)" in str(notice) for notice in log.notices
    )


def test_a_constant_for_a_column_that_is_not_there(tmp_path: Path) -> None:
    """A log without the arm switch is driven armed, because somebody says so."""
    text = "t_ms,throttle,steering,tip\n" + "".join(f"{k * 20},1500,1600,1700\n" for k in range(3))
    with pytest.raises(LogError, match=r"arm: no column 'arm' .*(\n.*)*--map arm==1500"):
        open_log(with_text(tmp_path, text), tipper_plan())
    _, pulses, _ = read(tmp_path, text, "arm==2000")
    assert pulses == [(1500, 1600, 1700, 2000)] * 3
    with pytest.raises(LogError, match="stop_in: only a channel can have a constant"):
        read(tmp_path, text, "arm==2000", "stop_in==1")


@pytest.mark.parametrize("text", ["arm==", "arm==on", "arm==9999", "t_ms==5", "steering=angle:5..5"])
def test_what_is_no_constant_or_range(text: str) -> None:
    """Refused before any file is opened."""
    with pytest.raises(OptionError, match=r"is no constant|both ends of the range"):
        parse_mapping([text])


@pytest.mark.parametrize(("most", "said"), [(9, "uses only 9%"), (150, "goes to 150%"), (60, "")])
def test_a_scale_that_fits_badly_is_told(tmp_path: Path, most: int, said: str) -> None:
    """Degrees taken for percent, say: a tenth of the range used, or more than all of it."""
    text = HEADER + "".join(f"{k * 20},{k * most / 8},1500,1500,1000\n" for k in range(9))
    _, _, told = read(tmp_path, text, "throttle=throttle:percent")
    assert said in told
    assert ("range" in told) == bool(said)
