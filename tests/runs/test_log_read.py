"""Logs as people bring them: what is put right and told, what is refused and how."""

import re
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixer.errors import LogError
from mixer.runs.log.cells import NO_PULSE, NOT_READ, Row
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.log.read import LogReader, open_log
from tests.plans import tipper_plan
from tests.runs.drives import with_text

HEAD = "t_ms,throttle,steering,tip,arm,stop_out,stop_in"


def read(
    folder: Path, text: str | bytes, *bindings: str, unused: tuple[str, ...] = ()
) -> tuple[list[Row], str]:
    """The rows of a text, and its notices."""
    reader = open_log(with_text(folder, text), tipper_plan(), parse_mapping(bindings), unused)
    rows = list(reader.rows())
    return rows, "\n".join(map(str, reader.notices)).replace(str(folder) + "/", "")


def refusal(folder: Path, text: str | bytes, *bindings: str) -> str:
    """Why a text is refused."""
    with pytest.raises(LogError) as caught:
        read(folder, text, *bindings)
    return str(caught.value).replace(str(folder) + "/", "")


GOOD = [
    Row(2, 0, (1500, 1501, 1502, 1000), (0, 1), None),
    Row(3, 20_500, (1600, 1501, NO_PULSE, 2000), (NOT_READ, 1), None),
]
BODY = "0,1500,1501,1502,1000,0,1\r\n20.5,1600,1501,,2000,,1\r\n"


def test_plain_log(tmp_path: Path) -> None:
    """The documented form reads as it stands; an empty cell is a missing pulse, told once a column."""
    rows, notices = read(tmp_path, f"{HEAD}\r\n{BODY}")

    assert rows == GOOD
    assert notices == "drive.csv:3: tip: an empty cell, a missing pulse"


@pytest.mark.parametrize(
    ("text", "notice"),
    [
        (b"\xef\xbb\xbf" + f"{HEAD}\r\n{BODY}".encode(), ""),
        (f"{HEAD}\r\n{BODY}".replace("\r\n", "\n"), ""),
        (f"{HEAD}\r\n{BODY}".replace("\r\n", "\r"), ""),
        (f"{HEAD}\r\n{BODY}".rstrip(), ""),
        (f'"t_ms","throttle"{HEAD[13:]}\n{BODY.replace("1500", chr(34) + "1500" + chr(34))}', ""),
        (f"{HEAD}\r\n{BODY}".replace(",", ";"), "separated by semicolons, read as such"),
        (f"{HEAD}\r\n{BODY}".replace(",", "\t"), "separated by tabs, read as such"),
        (f"{HEAD}\n{BODY}".replace(",", ";").replace("20.5", "20,5"), "'20,5' has a decimal comma"),
        (f"{HEAD}\n{BODY}40,1500,15", "drive.csv:4: the last line breaks off, skipped"),
        (f"{HEAD}\n{BODY}40,1500,15".encode() + b"\0" * 300, "the last line breaks off, skipped"),
        (f'{HEAD}\n{BODY}40,"15', "the last line breaks off, skipped"),
        (f"{HEAD}\n{BODY.replace('1502', '1501.6')}", "'1501.6' rounded to whole µs"),
        (
            f"{HEAD}\n{BODY.replace('20.5,1600,1501,,', '20.5,1600,1501,nan,')}",
            "'nan', read as a missing pulse",
        ),
        (
            f"{HEAD}\n{BODY.replace('20.5,1600,1501,,', '20.5,1600,1501,0,')}",
            "'0', read as a missing pulse",
        ),
    ],
)
def test_other_habits(tmp_path: Path, text: str | bytes, notice: str) -> None:
    """Other line ends, marks, quotes, separators, torn ends: the same rows, told where it matters."""
    rows, notices = read(tmp_path, text)

    assert rows == GOOD
    assert notice in notices


def test_quoting_of_rfc_4180(tmp_path: Path) -> None:
    """RFC 4180 section 2.7: a quote inside a quoted field is doubled, commas inside separate nothing."""
    body = HEAD.replace("tip", '"b ""bb, c"') + f"\r\n{BODY}"
    rows, _ = read(tmp_path, body, 'tip=b "bb, c')

    assert rows == GOOD


def test_blank_and_comment_lines(tmp_path: Path) -> None:
    """Blank lines, comments and empty rows are skipped, counted, and do not shift line numbers."""
    text = f"# made by hand\n{HEAD}\n\n{BODY}\n# end\n,,,,,,\n"
    rows, notices = read(tmp_path, text)

    assert [row.line for row in rows] == [4, 5]
    assert "drive.csv:1: a comment line, skipped (2 times)" in notices
    assert "drive.csv:3: a blank line, skipped (3 times)" in notices


def test_columns_nobody_needs(tmp_path: Path) -> None:
    """Unknown columns are ignored with the nearest known name; those of another loadout say so."""
    text = f"{HEAD},volt,lift\n0,1500,1500,1500,1000,0,0,12,1500\n"
    rows, notices = read(tmp_path, text, unused=("lift",))

    assert rows[0].pulses == (1500, 1500, 1500, 1000)
    assert "drive.csv:1: volt: unknown column, ignored; the nearest known name is volts" in notices
    assert "drive.csv:1: lift: this loadout does not use it, ignored" in notices


def test_contacts_not_recorded(tmp_path: Path) -> None:
    """A log without a contact's column reads, and says that it counts as open."""
    rows, notices = read(tmp_path, "t_ms,throttle,steering,tip,arm,volts\n0,1500,1500,1500,1000,12.25\n")

    assert rows == [Row(2, 0, (1500, 1500, 1500, 1000), (NOT_READ, NOT_READ), 12.25)]
    assert "stop_in: no such column, so the contact counts as open" in notices


def test_times(tmp_path: Path) -> None:
    """A repeated time and a silence are told with their count."""
    lines = [f"{t},1500,1500,1500,1000,0,0" for t in (0, 20, 20, 40, 500, 520, 900)]
    rows, notices = read(tmp_path, "\n".join([HEAD, *lines, ""]))

    assert len(rows) == 7
    assert "drive.csv:4: t_ms: 20 ms comes twice, the later row wins" in notices
    assert "drive.csv:6: t_ms: no row for 460 ms; the firmware sees missing pulses (2 times)" in notices


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"drive\.csv: is empty\n    remedy: record a log"),
        ("\n\n", r"drive\.csv: is empty\n"),
        ("# only this\n", r"drive\.csv: holds no header and no rows"),
        (f"{HEAD}\n", r"drive\.csv: holds no row\n"),
        (BODY, r"drive\.csv:1: the first line holds numbers \(0, 1500, 1501, \.\.\.\) instead of names"),
        (b"PK\x03\x04\0\0\0\x08 and so on", r"drive\.csv: is a binary file"),
        (f"{HEAD}\n{BODY}".encode("utf-16"), r"is text in UTF-16\n    remedy: save it as UTF-8"),
        (
            f"{HEAD},tip\n",
            r"drive\.csv:1: tip: 2 columns have this name\n    remedy: rename or remove all but one",
        ),
        (
            f"{HEAD.replace('throttle', 'Throtle')}\n{BODY}",
            r"drive\.csv:1: throttle: no column .*\n    remedy: rename column 'Throtle' or bind it with",
        ),
        (
            f"{HEAD}\n0,15x0,1500,1500,1000,0,0\n",
            r"drive\.csv:2: throttle: '15x0' is no pulse in us\n    remedy: a pu",
        ),
        (f"{HEAD}\n0,1500,inf,1500,1000,0,0\n", r"drive\.csv:2: steering: 'inf' is no pulse"),
        (f"{HEAD}\n0,1500,-3,1500,1000,0,0\n20,1500,1500,1500,1000,0,0\n", r"steering: '-3' is no pulse"),
        (
            f"{HEAD}\n0,1500,1500,1_500,1000,0,0\n20,1500,1500,1500,1000,0,2\n",
            r"stop_in: '2' is no contact",
        ),
        (
            f"{HEAD}\n-5,1500,1500,1500,1000,0,0\n",
            r"drive\.csv:2: t_ms: '-5' is no time\n    remedy: a number, 0 or",
        ),
        (f"{HEAD}\nnan,1500,1500,1500,1000,0,0\n", r"t_ms: 'nan' is no time"),
        (f"{HEAD}\n,1500,1500,1500,1000,0,0\n", r"t_ms: the time is missing"),
        (
            f"{HEAD}\n0,1500,1500,1500,1000,0\n{BODY}",
            r"drive\.csv:2: 6 fields where the header has 7\n    remedy: giv",
        ),
        (
            f"{HEAD}\n{BODY.replace('20.5', '20,5')}",
            r"drive\.csv:3: 8 fields where the header has 7\n.*decimal comma",
        ),
        (
            f"{HEAD}\n20,1,1,1,1,0,0\n",
            r"throttle: holds values such as 1, not pulses in µs\n    remedy: for a col",
        ),
        (
            f"{HEAD}\n{BODY}10,1500,1500,1500,1000,0,0\n",
            r"drive\.csv:4: t_ms: goes back from 20\.5 to 10 ms\n",
        ),
        (f"{HEAD}\n{BODY}9999999,1500,1500,1500,1000,0,0\n", r"drive\.csv:4: t_ms: jumps by 9999\.98 s to"),
        (
            f'{HEAD}\n0,"15"00,1500,1500,1000,0,0\n{BODY}',
            r"drive\.csv:2: cannot be split: .*\n    remedy: mend the q",
        ),
        (
            f'{HEAD}\n0,"1500,1500,1500,1000,0,0\n{BODY}',
            r"drive\.csv:2: cannot be split: .*\n    remedy: mend the q",
        ),
    ],
)
def test_refusals(tmp_path: Path, text: str | bytes, said: str) -> None:
    """What cannot be understood is refused with file, line, value and remedy."""
    assert re.search(said, refusal(tmp_path, text))


def test_open_quote_is_no_torn_line(tmp_path: Path) -> None:
    """A quote left open long before the end swallows rows, which must not pass for a torn last line."""
    text = f'{HEAD}\n{BODY}40,"1500,1500,1500,1000,0,0\n60,1500,1500,1500,1000,0,0'

    assert re.search(r"drive\.csv:4: cannot be split", refusal(tmp_path, text))


def test_every_problem_at_once(tmp_path: Path) -> None:
    """All bad rows are listed in one refusal, none twice, and never more than can be read."""
    bad = [f"{20 * k},x,1500,1500,1000,0,0" for k in range(300)]
    first = "\n".join([HEAD, *bad[:3], "80,1500,1500,1500,1000,0,9", ""])

    assert refusal(tmp_path, first).count("remedy:") == 4
    assert refusal(tmp_path, "\n".join([HEAD, *bad])).count("remedy:") == 20


@pytest.mark.parametrize(("step", "unit"), [(0.02, "s"), (20_000, "us")])
def test_times_in_another_unit(tmp_path: Path, step: float, unit: str) -> None:
    """Frame times no receiver has are refused with the likely unit, and read once it is given."""
    lines = [f"{k * step:g},1500,1500,1500,1000,0,0" for k in range(10)]
    text = "\n".join([HEAD, *lines, ""])
    rows, _ = read(tmp_path, text, f"t_ms=t_ms:{unit}")

    assert f"--map t_ms=COLUMN:{unit}" in refusal(tmp_path, text)
    assert [row.t_us for row in rows] == [20_000 * k for k in range(10)]


def test_missing_file(tmp_path: Path) -> None:
    """A path that leads nowhere, or to a folder, is refused in words."""
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(LogError, match=r"cannot be read: .*\n    remedy: give the path of a log"):
            open_log(path, tipper_plan())


def test_reads_again(tmp_path: Path) -> None:
    """Reading a second time gives the same rows and counts each notice anew."""
    reader: LogReader = open_log(with_text(tmp_path, f"{HEAD}\r\n{BODY}"), tipper_plan())
    first, first_notices = list(reader.rows()), reader.notices

    assert list(reader.rows()) == first
    assert reader.notices == first_notices
    assert reader.progress == 1.0


@given(st.binary(max_size=200) | st.text(alphabet='0159.,;"\n\r\0naeinf_- x', max_size=200).map(str.encode))
@example(b'"')
@example(b"\xef\xbb\xbf")
def test_anything_at_all(tmp_path_factory: pytest.TempPathFactory, tail: bytes) -> None:
    """Whatever bytes follow a good log, the reader gives rows in rising time or refuses, nothing else."""
    folder = tmp_path_factory.mktemp("any")
    for text in (tail, f"{HEAD}\n{BODY}".encode() + tail):
        try:
            rows, _ = read(folder, text)
        except LogError:
            continue
        assert [row.t_us for row in rows] == sorted(row.t_us for row in rows)
        assert all(0 <= pulse <= 65535 for row in rows for pulse in row.pulses)
