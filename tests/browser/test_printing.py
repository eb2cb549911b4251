"""On paper: everything, in order, whole, and large enough to read at the machine.

Outside references: the PDF that the browser prints, as pypdf and poppler's pdftotext read it.
"""

from __future__ import annotations

import re
import subprocess
import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from browser.chromium import Visits
from browser.papers import Papers
from browser.probes import faint, overlapping, probe
from pypdf import PdfReader
from trials.tools import found, needed_tools

POINTS = {"A4": (595.28, 841.89), "Letter": (612, 792)}
"""Width and height of paper (ISO 216; common practice)."""
LEAST_MARGIN = 14.0
"""pt, some 5 mm: nearer to the edge many printers cannot print (common practice)."""
SHEETS = ("lids", "changes")


@dataclass(frozen=True)
class Run:
    """Some text of one size on a page of the PDF."""

    page: int
    text: str
    size: float


def printed(visits: Visits, papers: Papers, name: str, paper: str, folder: Path) -> Path:
    """A run sheet as a browser prints it, with its own settings: no grounds, no page size."""
    path = folder / f"{name}-{paper}.pdf"
    page = visits(papers[name].sheet).page
    page.pdf(path=path, format=paper)
    return path


def runs(reader: PdfReader) -> Iterator[Run]:
    """All text of a PDF with the size that it has on paper (ISO 32000-1, 9.4.4)."""
    for number, page in enumerate(reader.pages):
        pieces: list[Run] = []

        def take(
            text: str,
            cm: list[float],
            tm: list[float],
            _font: Any,
            size: float,
            pieces: list[Run] = pieces,
            number: int = number,
        ) -> None:
            if text.strip():
                down = abs(tm[2] * cm[1] + tm[3] * cm[3]) or abs(tm[2] * cm[1] + tm[3] * cm[2])
                pieces.append(Run(number, text.strip(), size * down))

        page.extract_text(visitor_text=take)
        yield from pieces


class Words(HTMLParser):
    """The words of all boxes that `pdftotext -bbox` tells, by page."""

    def __init__(self) -> None:
        super().__init__()
        self.pages: list[dict[str, float]] = []
        self.words: list[tuple[int, dict[str, float]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: float(value or 0) for name, value in attrs if tag in ("page", "word")}
        if tag == "page":
            self.pages.append(values)
        elif tag == "word":
            self.words.append((len(self.pages) - 1, values))


def words_of(path: Path) -> Words:
    needed_tools("pdftotext")
    done = subprocess.run(
        [str(found("pdftotext")), "-bbox", str(path), "-"], capture_output=True, check=True
    )
    words = Words()
    words.feed(done.stdout.decode("utf-8"))
    return words


def squeezed(text: str) -> str:
    """Letters and digits alone; ligatures as their letters (Unicode, NFKC)."""
    return re.sub(r"\W+", "", unicodedata.normalize("NFKC", text))


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("name", SHEETS)
def test_every_page_is_of_that_paper_and_all_text_well_inside(
    visits: Visits, papers: Papers, tmp_path: Path, name: str, paper: str
) -> None:
    path = printed(visits, papers, name, paper, tmp_path)
    words = words_of(path)
    assert len(words.words) > 300
    for page in words.pages:
        assert (page["width"], page["height"]) == pytest.approx(POINTS[paper], abs=1)
    for number, box in words.words:
        page = words.pages[number]
        assert box["xmin"] >= LEAST_MARGIN, box
        assert box["xmax"] <= page["width"] - LEAST_MARGIN, box
        assert box["ymin"] >= LEAST_MARGIN, box
        assert box["ymax"] <= page["height"] - LEAST_MARGIN, box


@pytest.mark.parametrize("name", SHEETS)
def test_all_that_the_page_says_is_on_paper_in_its_order(
    visits: Visits, papers: Papers, tmp_path: Path, name: str
) -> None:
    path = printed(visits, papers, name, "A4", tmp_path)
    reader = PdfReader(path)
    text = squeezed(" ".join(page.extract_text() for page in reader.pages))
    page = visits(papers[name].sheet, java_script_enabled=False).page
    at = 0
    headings = [squeezed(heading) for _, heading in probe(page, "headings")]
    assert len(headings) > 10
    for heading in headings:
        found_at = text.find(heading, at)
        assert found_at >= 0, heading
        at = found_at + len(heading)
    said = [
        squeezed(said)
        for said in page.locator("main p, main li, main td, main dd").all_inner_texts()
    ]
    missing = [one for one in said if one and one not in text]
    # a table's cell may go over two pages, with the table's head in between
    assert len(missing) <= len(said) / 100, missing


@pytest.mark.parametrize("paper", POINTS)
def test_text_has_its_size_on_paper(
    visits: Visits, papers: Papers, tmp_path: Path, paper: str
) -> None:
    """Body 12 pt, warnings 14 pt, labels of drawings 9 pt: a browser that had to make the page
    narrower would have made the text smaller as well."""
    path = printed(visits, papers, "refused", paper, tmp_path)
    found_runs = list(runs(PdfReader(path)))
    sizes: Counter[float] = Counter()
    for run in found_runs:
        sizes[round(run.size, 1)] += len(run.text)
    assert min(sizes) >= 8.95, sizes
    assert sizes.most_common(1)[0][0] >= 11.95, sizes
    warned = [run for run in found_runs if "Warning" in run.text]
    assert warned
    assert all(run.size >= 13.95 for run in warned)


def test_text_outside_drawings_is_never_small_on_paper(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet, viewport={"width": 700, "height": 900}).page
    page.emulate_media(media="print")
    texts = probe(page, "texts")
    small = [text for text in texts if not text["drawn"] and text["size"] < 16 - 0.1]  # 12 pt
    assert small == []


@pytest.mark.parametrize("name", SHEETS)
def test_paper_is_spared(visits: Visits, papers: Papers, tmp_path: Path, name: str) -> None:
    """Four pages a file at most, and four for what holds for all of them."""
    reader = PdfReader(printed(visits, papers, name, "A4", tmp_path))
    files = visits(papers[name].sheet).page.locator("section.hr-file").count()
    assert len(reader.pages) <= 4 * files + 4


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("name", SHEETS)
def test_no_line_of_text_lies_over_another_on_paper(
    visits: Visits, papers: Papers, name: str, paper: str
) -> None:
    wide = int((POINTS[paper][0] / 72 * 25.4 - 2 * 12) / 25.4 * 96)
    page = visits(papers[name].sheet, viewport={"width": wide, "height": 900}).page
    page.emulate_media(media="print")
    assert list(overlapping(probe(page, "rows"), 4, 4)) == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_paper_is_white_whatever_the_theme(visits: Visits, papers: Papers, theme: str) -> None:
    page = visits(papers["lids"].sheet, color_scheme=theme).page
    page.emulate_media(media="print", color_scheme=theme)
    texts = probe(page, "texts")
    assert min(sum(text["ground"]) for text in texts if not text["drawn"]) > 3 * 200
    assert faint(texts, 7) == []


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("name", SHEETS)
def test_drawings_are_true_to_scale_and_whole_on_paper(
    visits: Visits, papers: Papers, name: str, paper: str
) -> None:
    """As wide as they say in mm (CSS: 96 px are 25.4 mm), 180 mm at most, and lower than a page,
    for what is higher is torn. Margins of 12 mm are taken off the paper."""
    wide, high = (points / 72 * 25.4 - 2 * 12 for points in POINTS[paper])
    page = visits(papers[name].sheet, viewport={"width": int(wide / 25.4 * 96), "height": 900}).page
    page.emulate_media(media="print")
    drawings = page.locator("figure.hr-figure svg")
    assert drawings.count() >= 3
    for drawing in drawings.all():
        box = drawing.bounding_box()
        said = re.fullmatch(r"([0-9.]+)mm", drawing.get_attribute("width") or "")
        assert box is not None
        assert said is not None
        assert box["width"] / 96 * 25.4 == pytest.approx(float(said[1]), rel=0.002)
        assert box["width"] / 96 * 25.4 <= 180.5
        assert box["height"] / 96 * 25.4 < high


def test_controls_stay_on_the_screen(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet).page
    assert page.locator(".hr-controls").first.is_visible()
    page.emulate_media(media="print")
    assert not page.locator(".hr-controls").first.is_visible()
