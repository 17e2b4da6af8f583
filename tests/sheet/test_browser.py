"""The page in a real browser: one sheet of paper on A4 and on Letter, and as high as we worked out."""

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import matplotlib
import pytest
from fontTools.ttLib import TTFont

from mixer.sheet.facts import SheetFacts
from mixer.sheet.page import Sheet, draw_sheet
from mixer.sheet.typography import SMALLER, Type
from tests.lengths import cases
from tests.sheet.pages import EXAMPLES, dense_profile, example, facts_of

pytestmark = pytest.mark.needs_tool("chromium", "pdfinfo")

NAMES = [f"{stem}-{loadout or 'base'}" for stem, loadout in EXAMPLES] + ["dense-12", "dense-24"]
FULLEST = ("sample_carrier-base", "dense-24")
PAPERS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""In mm, ISO 216 and ANSI Y14.1."""
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--no-pdf-header-footer",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip


def facts_named(name: str) -> SheetFacts:
    """An example robot in a loadout, or a dense one."""
    stem, _, rest = name.partition("-")
    if stem == "dense":
        return facts_of(dense_profile(5, int(rest), 6 if rest == "12" else 12, 2))
    return example(stem, None if rest == "base" else rest)


@pytest.fixture
def wide_only(tmp_path: Path) -> dict[str, str]:
    """An environment in which fontconfig knows nothing but DejaVu Sans; matplotlib brings the files."""
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    (tmp_path / "fonts").mkdir()
    for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"):
        shutil.copy(fonts / name, tmp_path / "fonts")
    config = tmp_path / "fonts.conf"
    places = f"<dir>{tmp_path / 'fonts'}</dir><cachedir>{tmp_path / 'cache'}</cachedir>"
    config.write_text(f'<?xml version="1.0"?><fontconfig>{places}</fontconfig>', encoding="utf-8")
    return {"FONTCONFIG_FILE": str(config)}


def browse(folder: Path, page: Path, *options: str, env: dict[str, str] | None = None) -> str:
    """One run of the browser with a new profile of its own."""
    command = ["chromium", *QUIET, f"--user-data-dir={folder / 'browser'}", *options, page.as_uri()]
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, timeout=60, env=os.environ | (env or {})
    )
    return done.stdout


def told_by(document: str) -> Any:  # noqa: ANN401  whatever the script told
    """What a script left in the page."""
    found = re.search(r'<pre id="told">(.*?)</pre>', document, re.DOTALL)
    assert found
    return json.loads(html.unescape(found[1]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", cases(FULLEST, [name for name in NAMES if name not in FULLEST]))
def test_it_prints_to_one_page(tmp_path: Path, name: str, paper: str) -> None:
    """Every example robot in every loadout, and dense ones, print to exactly one page of either paper."""
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    text = draw_sheet(facts_named(name)).html
    page.write_text(text.replace("@page {", f"@page {{ size: {paper};", 1), encoding="utf-8")
    browse(tmp_path, page, f"--print-to-pdf={pdf}")
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    assert re.search(r"^Pages: +1$", told, re.MULTILINE), told
    wide, high = (float(n) * 25.4 / 72 for n in re.findall(r"Page size: +([\d.]+) x ([\d.]+)", told)[0])
    assert (wide, high) == pytest.approx(PAPERS[paper], abs=0.5)


@pytest.mark.parametrize("name", cases(["sample_carrier-base", "dense-24"], ["tank_pair-base"]))
def test_the_height_worked_out_is_the_browsers(tmp_path: Path, name: str) -> None:
    """The page is never higher than worked out, nor much lower; nothing spills, no type is under 9 pt."""
    told, sheet = measured(tmp_path, name)
    assert sheet.height_mm - 10 < told["high"] <= sheet.height_mm


@pytest.mark.parametrize("name", cases(["sample_carrier-base", "dense-24"], ["long_crawler-base"]))
def test_a_machine_with_dejavu_only_gets_one_page_too(
    tmp_path: Path, wide_only: dict[str, str], name: str
) -> None:
    """Without any of the usual families the page is set in DejaVu Sans, and is no higher."""
    told, sheet = measured(tmp_path, name, wide_only)
    assert told["high"] <= sheet.height_mm
    assert told["wide"] == pytest.approx(dejavu_mm(told["text"], sheet.size_pt * SMALLER), rel=0.06)


def dejavu_mm(text: str, size_pt: float) -> float:
    """How far a text runs in DejaVu Sans, by the font's own table."""
    font = TTFont(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")
    glyphs, widths = font.getBestCmap(), font["hmtx"]
    units = sum(widths[glyphs[ord(letter)]][0] for letter in text)
    return float(units / font["head"].unitsPerEm * size_pt * 25.4 / 72)


def test_no_letter_runs_wider_than_worked_out() -> None:
    """Every letter of DejaVu Sans, made smaller as the page does it, is within the width it counts with."""
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for file, bold in (("DejaVuSans.ttf", False), ("DejaVuSans-Bold.ttf", True)):
        font = TTFont(fonts / file)
        for code in range(32, 127):
            width = font["hmtx"][font.getBestCmap()[code]][0] / font["head"].unitsPerEm
            assert width * SMALLER * 25.4 / 72 <= Type(1.0, 0.0).width_mm(chr(code), bold=bold) + 1e-9


def measured(folder: Path, name: str, env: dict[str, str] | None = None) -> tuple[dict[str, Any], Sheet]:
    """What a browser makes of the page; nothing spills and no type is under 9 pt with any fonts."""
    sheet = draw_sheet(facts_named(name))
    script = """<script>
        const main = document.querySelector("main"), high = main.getBoundingClientRect().height * 25.4 / 96;
        const spilt = [...main.querySelectorAll("td, th, li, p, figure, dd")]
            .filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.textContent);
        const size = parseFloat(getComputedStyle(document.body).fontSize) * 72 / 96;
        const small = [...main.querySelectorAll("*")]
            .filter((e) => parseFloat(getComputedStyle(e).fontSize) * 72 / 96 < size - 0.01).length;
        const text = "hamburgefonstiv 0123456789", probe = document.createElement("span");
        probe.textContent = text;
        main.append(probe);
        const wide = probe.getBoundingClientRect().width * 25.4 / 96;
        document.body.innerHTML = "<pre id=told></pre>";
        document.getElementById("told").textContent = JSON.stringify(
            {high, spilt, size, small, text, wide});
        </script>"""
    page = folder / "sheet.html"
    page.write_text(sheet.html.replace("</body>", f"{script}</body>"), encoding="utf-8")
    told: dict[str, Any] = told_by(browse(folder, page, "--dump-dom", env=env))
    assert told["spilt"] == []
    assert told["size"] == pytest.approx(sheet.size_pt, abs=0.01)
    assert told["size"] >= 8.99
    assert told["small"] == 0
    return told, sheet


def asked_for(folder: Path, text: str) -> list[str]:
    """What the page fetched besides itself, by the browser's resource timing; failed fetches count."""
    script = """<script>addEventListener("load", () => { document.body.innerHTML = "<pre id=told></pre>";
        document.getElementById("told").textContent =
            JSON.stringify(performance.getEntriesByType("resource").map((e) => e.name)); })</script>"""
    page = folder / "asking.html"
    page.write_text(text.replace("</body>", f"{script}</body>"), encoding="utf-8")
    found: list[str] = told_by(browse(folder, page, "--dump-dom"))
    return found


def test_it_asks_the_network_for_nothing(tmp_path: Path) -> None:
    """The page fetches nothing besides itself; with a picture from elsewhere we would see that."""
    text = draw_sheet(example("sample_carrier")).html
    assert asked_for(tmp_path, text) == []
    elsewhere = "http://127.0.0.1:9/picture.png"
    assert asked_for(tmp_path, text.replace("<main>", f'<main><img src="{elsewhere}">')) == [elsewhere]
