"""The page of a review, looked at in a browser: light, dark, on paper, and what it asks the network for."""

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from mixer.review.page import Shown, draw_page
from tests.review.test_drive import LOADS, ROUGH, reviewed
from tests.sheet.test_browser import asked_for, browse

pytestmark = pytest.mark.needs_tool("matplotlib")


@pytest.fixture(scope="module")
def page() -> str:
    """Two drives of one robot."""
    return draw_page([Shown(*reviewed(ROUGH)), Shown(*reviewed(LOADS))])


def test_equal_drives_give_equal_pages(page: str) -> None:
    """Byte for byte; no colour, no date and no foreign address is left in the drawings."""
    assert page == draw_page([Shown(*reviewed(ROUGH)), Shown(*reviewed(LOADS))])
    drawn = "".join(re.findall(r"<svg.*?</svg>", page, re.DOTALL))
    assert "#0000" not in drawn
    assert set(re.findall(r'https?://[^"\s]+', page)) <= {
        "http://www.w3.org/1999/xlink",
        "http://www.w3.org/2000/svg",
    }
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_what_comes_from_files_is_shown_and_not_obeyed() -> None:
    """A log named like markup is text on the page."""
    review, points = reviewed(ROUGH)
    named = type(review)(
        **{field: getattr(review, field) for field in review.__slots__}
        | {"log": "<script>alert(1)</script>"}
    )
    text = draw_page([Shown(named, points)])
    assert "<script" not in text
    assert "&lt;script&gt;" in text


@pytest.mark.needs_tool("chromium")
@pytest.mark.parametrize("scheme", [pytest.param("light", marks=pytest.mark.long), "dark"])
def test_it_is_legible_in_light_and_dark(tmp_path: Path, page: str, scheme: str) -> None:
    """The ground is light in one and dark in the other, and there is ink and colour on it."""
    image = pytest.importorskip("matplotlib.image")
    file, shot = tmp_path / "review.html", tmp_path / "shot.png"
    file.write_text(page, encoding="utf-8")
    setting = f"--blink-settings=preferredColorScheme={1 if scheme == 'light' else 0}"
    browse(tmp_path, file, setting, "--hide-scrollbars", "--window-size=900,3000", f"--screenshot={shot}")
    seen = image.imread(shot)[:, :, :3]
    brightness = seen.mean(axis=2)
    ground = np.median(brightness)
    assert ground > 0.95 if scheme == "light" else ground < 0.15
    assert (abs(brightness - ground) > 0.5).mean() > 0.01
    assert (np.ptp(seen, axis=2) > 0.3).mean() > 0.002


@pytest.mark.long
@pytest.mark.needs_tool("chromium", "pdftotext")
def test_it_asks_for_nothing_and_prints(tmp_path: Path, page: str) -> None:
    """Nothing is fetched; on paper every command can be read whole."""
    assert asked_for(tmp_path, page) == []
    file, pdf = tmp_path / "review.html", tmp_path / "review.pdf"
    file.write_text(page, encoding="utf-8")
    browse(tmp_path, file, f"--print-to-pdf={pdf}")
    told = subprocess.run(
        ["pdftotext", "-raw", pdf, "-"], capture_output=True, text=True, check=True
    ).stdout
    squeezed = re.sub(r"\s+", "", told)
    for moment in (*reviewed(ROUGH)[0].moments, *reviewed(LOADS)[0].moments):
        assert re.sub(r"\s+", "", moment.explain) in squeezed
