"""The page in a real browser: one sheet of paper on A4 and on Letter, and as high as we worked out."""

import html
import json
import os
import re
import shutil
import subprocess
from importlib import resources
from itertools import product
from pathlib import Path
from typing import Any

import matplotlib
import pytest
from fontTools.ttLib import TTFont

from mixer.sheet.facts import SheetFacts
from mixer.sheet.page import Sheet, draw_sheet
from mixer.sheet.style import MARGIN_MM
from mixer.sheet.typography import Type
from tests.lengths import cases
from tests.sheet.pages import EXAMPLES, dense_profile, example, facts_of

pytestmark = pytest.mark.needs_tool("chromium", "pdfinfo", "pdffonts", "pdftotext")

NAMES = [f"{stem}-{loadout or 'base'}" for stem, loadout in EXAMPLES] + ["dense-12", "dense-24"]
PAPERS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""In mm, ISO 216 and ANSI Y14.1."""
FONTS: dict[str, tuple[str, ...] | None] = {
    "common": None, "none": (), "mono": ("DejaVuSansMono",), "wide": ("DejaVuSans",),
}  # fmt: skip
"""The families a machine has; None for those of the one that runs the tests."""
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


def only(folder: Path, *families: str) -> dict[str, str]:
    """An environment in which fontconfig knows nothing but these; matplotlib brings the files."""
    fonts = folder / "fonts"
    fonts.mkdir()
    for file in (Path(matplotlib.get_data_path()) / "fonts" / "ttf").glob("DejaVu*.ttf"):
        if file.stem.partition("-")[0] in families:
            shutil.copy(file, fonts)
    config = folder / "fonts.conf"
    places = f"<dir>{fonts}</dir><cachedir>{folder / 'cache'}</cachedir>"
    config.write_text(f'<?xml version="1.0"?><fontconfig>{places}</fontconfig>', encoding="utf-8")
    return {"FONTCONFIG_FILE": str(config)}


def browse(folder: Path, page: Path, *options: str, env: dict[str, str] | None = None) -> str:
    """One run of the browser with a new profile of its own."""
    command = ["chromium", *QUIET, f"--user-data-dir={folder / 'browser'}", *options, page.as_uri()]
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, timeout=60, env=os.environ | (env or {})
    )
    return done.stdout


FIRST, ALL = ("dense-24", "letter", "mono"), [*product(NAMES, PAPERS, FONTS)]


@pytest.mark.parametrize(("name", "paper", "fonts"), cases([FIRST], [one for one in ALL if one != FIRST]))
def test_it_prints_to_one_page_whatever_fonts_there_are(
    tmp_path: Path, name: str, paper: str, fonts: str
) -> None:
    """Every example robot in every loadout, and dense ones, print to exactly one page of either paper.

    Set in the letters that the page brings, it is never higher than worked out, nor much lower; nothing
    spills and no type is under 9 pt.
    """
    sheet = draw_sheet(facts_named(name))
    pdf, told = printed(tmp_path, sheet, paper, fonts)
    assert re.search(r"^Pages: +1$", pdf, re.MULTILINE), pdf
    wide, high = (float(n) * 25.4 / 72 for n in re.findall(r"Page size: +([\d.]+) x ([\d.]+)", pdf)[0])
    assert (wide, high) == pytest.approx(PAPERS[paper], abs=0.5)
    assert sheet.height_mm - 10 < told["high"] <= sheet.height_mm
    assert told["fonts"] == {"StickwrightSheet-Bold", "StickwrightSheet-Regular"}
    assert told["spilt"] == []
    assert told["size"] == pytest.approx(sheet.size_pt, abs=0.01)
    assert told["size"] >= 8.99
    assert told["small"] == 0


def printed(folder: Path, sheet: Sheet, paper: str, fonts: str) -> tuple[str, dict[str, Any]]:
    """What `pdfinfo` says of the page on that paper; how high its text is, in mm, which fonts it is set in.

    And what a script measured, told by the title.
    """
    script = """<script>addEventListener("beforeprint", () => {
        const main = document.querySelector("main");
        const spilt = [...main.querySelectorAll("td, th, li, p, figure, dd")]
            .filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.textContent);
        const size = parseFloat(getComputedStyle(document.body).fontSize) * 72 / 96;
        const small = [...main.querySelectorAll("*")]
            .filter((e) => parseFloat(getComputedStyle(e).fontSize) * 72 / 96 < size - 0.01).length;
        document.title = JSON.stringify({spilt, size, small}); })</script>"""
    page, pdf = folder / "sheet.html", folder / "sheet.pdf"
    text = sheet.html.replace("@page {", f"@page {{ size: {paper};", 1).replace(
        "</body>", f"{script}</body>"
    )
    page.write_text(text, encoding="utf-8")
    families = FONTS[fonts]
    env = None if families is None else only(folder, *families)
    browse(folder, page, f"--print-to-pdf={pdf}", env=env)
    said = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    told: dict[str, Any] = json.loads(re.findall(r"^Title: +(.*)$", said, re.MULTILINE)[0])
    words = subprocess.run(
        ["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True
    ).stdout
    told["high"] = max(map(float, re.findall(r'yMax="([\d.]+)"', words))) * 25.4 / 72 - MARGIN_MM
    listed = subprocess.run(["pdffonts", pdf], capture_output=True, text=True, check=True).stdout
    told["fonts"] = {line.split()[0].partition("+")[2] for line in listed.splitlines()[2:]}
    return said, told


@pytest.mark.parametrize(("weight", "bold"), [("regular", False), ("bold", True)])
def test_letters_are_as_wide_as_worked_out(weight: str, bold: bool) -> None:
    """From space to tilde each letter counts with its width in the font, in thousandths rounded up.

    The others count at least with their width, but for a per mille sign.
    """
    with resources.as_file(resources.files("mixer.sheet") / "font" / f"{weight}.woff") as path:
        font = TTFont(path)
    em = font["head"].unitsPerEm * 72 / 25.4
    for code, glyph in font.getBestCmap().items():
        counted, width = Type(1.0, 0.0).width_mm(chr(code), bold=bold), font["hmtx"][glyph][0] / em
        assert counted >= width - 1e-9 or chr(code) == "‰"
        assert counted < width + 0.00036 or code > 126


def test_the_letters_are_free_to_hand_on() -> None:
    """The licence is in each font and beside it, and a changed font bears none of the names it protects."""
    folder = resources.files("mixer.sheet") / "font"
    licence = (folder / "LICENSE").read_text(encoding="utf-8")
    for weight in ("regular", "bold"):
        with resources.as_file(folder / f"{weight}.woff") as path:
            names = TTFont(path)["name"]
        assert str(names.getName(13, 3, 1)).replace("\r\n", "\n").strip() in licence
        called = " ".join(str(names.getName(kind, 3, 1)) for kind in (1, 4, 6))
        assert not re.search("Bitstream|Vera|Arev|Tavmjong|DejaVu", called)


def told_by(document: str) -> Any:  # noqa: ANN401  whatever the script told
    """What a script left in the page."""
    found = re.search(r'<pre id="told">(.*?)</pre>', document, re.DOTALL)
    assert found
    return json.loads(html.unescape(found[1]))


def asked_for(folder: Path, text: str) -> list[str]:
    """What the page fetched besides itself, by the browser's resource timing; failed fetches count."""
    script = """<script>addEventListener("load", () => { document.body.innerHTML = "<pre id=told></pre>";
        document.getElementById("told").textContent =
            JSON.stringify(performance.getEntriesByType("resource").map((e) => e.name)); })</script>"""
    page = folder / "asking.html"
    page.write_text(text.replace("</body>", f"{script}</body>"), encoding="utf-8")
    found: list[str] = told_by(browse(folder, page, "--dump-dom"))
    return found


@pytest.mark.long
def test_it_asks_the_network_for_nothing(tmp_path: Path) -> None:
    """The page fetches nothing besides itself; with a picture from elsewhere we would see that."""
    text = draw_sheet(example("sample_carrier")).html
    elsewhere = "http://127.0.0.1:9/picture.png"
    asked = asked_for(tmp_path, text.replace("<main>", f'<main><img src="{elsewhere}">'))
    assert [address for address in asked if not address.startswith("data:")] == [elsewhere]
