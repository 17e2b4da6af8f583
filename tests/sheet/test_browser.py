"""The page in a real browser: one sheet of paper on A4 and on Letter, and as high as we worked out."""

import html
import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from mixer.sheet import SheetFacts, draw_sheet
from tests.sheet.pages import EXAMPLES, dense_profile, example, facts_of

pytestmark = pytest.mark.needs_tool("chromium", "pdfinfo")

NAMES = [f"{stem}-{loadout or 'base'}" for stem, loadout in EXAMPLES] + ["dense-12", "dense-24"]
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


def browse(folder: Path, page: Path, *options: str) -> str:
    """One run of the browser with a new profile of its own."""
    command = ["chromium", *QUIET, f"--user-data-dir={folder / 'browser'}", *options, page.as_uri()]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout


def told_by(document: str) -> Any:  # noqa: ANN401  whatever the script told
    """What a script left in the page."""
    found = re.search(r'<pre id="told">(.*?)</pre>', document, re.DOTALL)
    assert found
    return json.loads(html.unescape(found[1]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
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


@pytest.mark.parametrize("name", ["sample_carrier-base", "tank_pair-base", "dense-24"])
def test_the_height_worked_out_is_the_browsers(tmp_path: Path, name: str) -> None:
    """The page is never higher than worked out, nor much lower; nothing spills, no type is under 9 pt."""
    sheet = draw_sheet(facts_named(name))
    script = """<script>
        const main = document.querySelector("main"), high = main.getBoundingClientRect().height * 25.4 / 96;
        const spilt = [...main.querySelectorAll("td, th, li, p, figure, dd")]
            .filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.textContent);
        const size = parseFloat(getComputedStyle(document.body).fontSize) * 72 / 96;
        const small = [...main.querySelectorAll("*")]
            .filter((e) => parseFloat(getComputedStyle(e).fontSize) * 72 / 96 < size - 0.01).length;
        document.body.innerHTML = "<pre id=told></pre>";
        document.getElementById("told").textContent = JSON.stringify({high, spilt, size, small});
        </script>"""
    page = tmp_path / "sheet.html"
    page.write_text(sheet.html.replace("</body>", f"{script}</body>"), encoding="utf-8")
    told = told_by(browse(tmp_path, page, "--dump-dom"))
    assert sheet.height_mm - 6 < told["high"] <= sheet.height_mm
    assert told["spilt"] == []
    assert told["size"] == pytest.approx(sheet.size_pt, abs=0.01)
    assert told["size"] >= 8.99
    assert told["small"] == 0


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
