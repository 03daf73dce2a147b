"""Papers read back with programs that are not ours: PDFium for PDF, an SVG library, HTML and XML parsers."""

import ctypes
import math
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
import svgelements
from pypdfium2 import raw

from scalegen.model import JobSpec
from scalegen.papers import paper_files
from scalegen.papers.bezier import arc_curves
from scalegen.papers.template import template_pdf, template_svg
from scalegen.pipeline import study_pattern
from scalegen.report.made import Made

PROFILES = Path(__file__).parents[2] / "profiles"

MM = 25.4 / 72
"""One point. Source: ISO 32000-1, 8.3.2.3: default user space is in units of 1/72 in."""

PAPERS = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4)}
"""ISO 216, A4; ANSI/ASME Y14.1, size A."""

# A tang with a straight front part and a half circle at the butt: everything on it has a closed form.
STADIUM = """
name = "stadium"
title = "Stadium"
units = "mm"
stock = "paper-six"
[tang]
thickness = 3
outline = [[0, -10], [90, -10, 1.0], [90, 10], [0, 10]]
[front]
at = 10
angle = 90
treatment = "square"
[scale]
thickness = 6.2
trim = 0.8
[[pin]]
at = [30, 0]
hardware = "pin 1/8in"
[[pin]]
at = [70, 2]
hardware = "pin 1/8in"
"""

Jobs = Callable[..., Made]


@pytest.fixture(scope="module")
def stadium(tmp_path_factory: pytest.TempPathFactory, job_of: Jobs) -> Made:
    """The stadium's job."""
    path = tmp_path_factory.mktemp("stadium") / "stadium.toml"
    path.write_text(STADIUM)
    return job_of(path, cut=False)


def files(made: Made) -> dict[str, bytes]:
    """All papers of a job by name."""
    return dict(paper_files(made))


def path_points(page: pdfium.PdfPage) -> Iterator[np.ndarray]:
    """Every path on a page as its points in mm from the page's lower left corner, control points included."""
    for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=3):
        matrix = each.get_matrix()
        points = []
        for k in range(raw.FPDFPath_CountSegments(each.raw)):
            segment = raw.FPDFPath_GetPathSegment(each.raw, k)
            x, y = ctypes.c_float(), ctypes.c_float()
            assert raw.FPDFPathSegment_GetPoint(segment, x, y)
            points.append(matrix.on_point(x.value, y.value))
        yield np.array(points) * MM


def text_of(pdf: bytes) -> str:
    """All text of a PDF."""
    document = pdfium.PdfDocument(BytesIO(pdf))
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


class Words(HTMLParser):
    """Collects the text of a page, style sheets left out."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._quiet = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look for anything that would be fetched."""
        self._quiet = tag == "style"
        for name, value in attrs:
            assert name not in {"src", "srcset"}
            if name == "href":
                assert (value or "").startswith("data:")

    def handle_endtag(self, tag: str) -> None:
        """A style sheet ends."""
        self._quiet = self._quiet and tag != "style"

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        if not self._quiet:
            self.said.append(data)


def words_of(html: bytes) -> str:
    """All text of an HTML page."""
    parser = Words()
    parser.feed(html.decode())
    return "\n".join(parser.said)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_pages_have_the_size_of_the_paper(name: str, paper: str, paper_job: Jobs) -> None:
    """Every page of both PDF files is A4 or Letter within 0.5 mm, the template's lying across."""
    made = files(paper_job(name, paper))
    wide, high = PAPERS[paper]
    for file, want in (("shop-sheet.pdf", (wide, high)), ("template.pdf", (high, wide))):
        document = pdfium.PdfDocument(BytesIO(made[file]))
        assert 1 <= len(document) <= 4
        for page in document:
            assert np.array(page.get_size()) * MM == pytest.approx(want, abs=0.5)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_a_shop_sheet_has_four_pages_at_most(name: str, paper: str, job_of: Jobs) -> None:
    """Six pairs of each demo, on one or two sheets, not measured: four pages at most, counted by PDFium."""
    made = job_of(PROFILES / f"{name}.toml", pairs=6, spares=0)
    assert len(made.layouts) in {1, 2}
    asked = replace(made, spec=replace(made.spec, paper=paper))
    assert 2 <= len(pdfium.PdfDocument(BytesIO(files(asked)["shop-sheet.pdf"]))) <= 4


def test_a_job_in_inches_comes_on_letter_and_one_in_mm_on_a4(paper_job: Jobs) -> None:
    """Paper that nobody asked for goes by the unit: the curlew is drawn in inches, the siskin in mm."""
    for name, paper in (("curlew", "letter"), ("siskin", "a4")):
        page = pdfium.PdfDocument(BytesIO(files(paper_job(name))["shop-sheet.pdf"]))[0]
        assert np.array(page.get_size()) * MM == pytest.approx(PAPERS[paper], abs=0.5)


@pytest.mark.parametrize("name", ["siskin", "curlew"])
def test_bars_of_the_template_are_true(name: str, paper_job: Jobs) -> None:
    """Two bars of 100 mm, across and along the page, and one of 4 in = 101.6 mm, within 0.01 mm.

    Source: 1 in = 25.4 mm exactly, NBS Circular 572, addendum on the yard of 1959.
    """
    page = pdfium.PdfDocument(BytesIO(files(paper_job(name))["template.pdf"]))[0]
    lines = [points for points in path_points(page) if len(points) == 2]
    spans = [np.abs(points[1] - points[0]) for points in lines]
    for want, axis in ((100.0, 0), (101.6, 0), (100.0, 1)):
        bars = [span for span in spans if abs(span[axis] - want) <= 0.01 and span[1 - axis] < 1e-3]
        assert len(bars) == 1, (want, axis)


def test_outlines_on_paper_have_their_size(stadium: Made) -> None:
    """Finished 90 x 20 mm and as cut 0.8 mm more at three sides, from PDF paths; holes 49 mm apart in x..."""
    page = pdfium.PdfDocument(BytesIO(template_pdf([stadium.lots[0].scale], "mm", "a4")))[0]
    boxes = [np.ptp(points, axis=0) for points in path_points(page) if len(points) > 4]
    # From the front at 10 to the end of the half circle at 100.
    assert any(box == pytest.approx((90.0, 20.0), abs=0.01) for box in boxes)
    assert any(box == pytest.approx((90.8, 21.6), abs=0.01) for box in boxes)


def test_the_svg_has_the_closed_forms(stadium: Made) -> None:
    """Length of the finished outline 160 + 20 + 10 pi, of the one as cut 160 + 21.6 + 10.8 pi; size in mm."""
    text = template_svg([stadium.lots[0].scale], "mm")
    # One user unit is 1 mm: the view box has the size in mm that is stated beside it.
    wide, high, box = re.search(
        r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 ([\d. ]+)"', text
    ).groups()  # type: ignore[union-attr] # no match fails the test all the same
    assert box == f"{wide} {high}"
    svg = svgelements.SVG.parse(BytesIO(re.sub(r'width="[\d.]+mm" height="[\d.]+mm" ', "", text).encode()))
    shapes = [each for each in svg.elements() if isinstance(each, svgelements.Shape)]
    lengths = [svgelements.Path(each).length(error=1e-7) for each in shapes]
    for want in (160 + 20 + 10 * math.pi, 160 + 21.6 + 10.8 * math.pi, 100.0, 101.6):
        assert any(abs(length - want) < 1e-3 for length in lengths), want
    circles = [each for each in shapes if isinstance(each, svgelements.Circle)]
    a, b = (complex(each.cx, each.cy) for each in circles[:2])
    # The pins at (30, 0) and (70, 2), y up.
    assert (b - a).real == pytest.approx(40.0, abs=1e-3)
    assert (b - a).imag == pytest.approx(-2.0, abs=1e-3)
    # Drill #30 is 0.1285 in. Source: ASME B94.11M, number drills.
    assert 2 * circles[0].implicit_rx == pytest.approx(0.1285 * 25.4, abs=1e-3)


@pytest.mark.parametrize(("radius", "sweep_deg"), [(10, 180), (1000, 90), (50000, 20), (3, -300)])
def test_curves_stay_on_their_arcs(radius: float, sweep_deg: float) -> None:
    """Points of the curves are within 0.01 mm of the circle: distance to its centre against its radius."""
    sweep = math.radians(sweep_deg)
    start = np.array([radius, 0.0])
    end = radius * np.array([math.cos(sweep), math.sin(sweep)])
    here, t = start, np.linspace(0, 1, 201)[:, None]
    for first, second, last in arc_curves(start, end, math.tan(sweep / 4)):
        points = (
            (1 - t) ** 3 * here + 3 * (1 - t) ** 2 * t * first + 3 * (1 - t) * t**2 * second + t**3 * last
        )
        off = np.hypot(points[:, 0], points[:, 1]) - radius
        assert np.abs(off).max() <= 0.01
        here = last
    assert here == pytest.approx(end)


def centers(points: list[np.ndarray], length_mm: float) -> np.ndarray:
    """Middles of level lines of a length, from left to right and from below."""
    level = [each for each in points if len(each) == 2 and abs(each[0, 1] - each[1, 1]) < 1e-3]
    found = [each.mean(axis=0) for each in level if abs(np.ptp(each[:, 0]) - length_mm) < 1e-3]
    return np.array(sorted(map(tuple, found)))


def test_pages_of_a_large_template_fit_together(tmp_path: Path) -> None:
    """A scale 490 mm long comes on two pages; laid mark on mark, a pin in the overlap lies on itself."""
    path = tmp_path / "long.toml"
    path.write_text(STADIUM.replace("90, ", "490, ").replace("[70, 2]", "[270, 2]"))
    document = pdfium.PdfDocument(BytesIO(template_pdf([study_pattern(path, JobSpec()).scale], "mm", "a4")))
    assert len(document) == 2
    seen = []
    for page in document:
        said = page.get_textpage().get_text_bounded()
        assert "M1" in said
        assert "M2" in said
        points = list(path_points(page))
        marks = centers(points, 10.0)
        # Arms of a pin's cross: the hole of drill #30, 0.1285 in (ASME B94.11M), and 3 mm on both sides.
        pins = centers(points, 0.1285 * 25.4 + 6.0)
        assert len(marks) == 2
        # Of both pins drawn, the one nearest to the marks is that in the overlap.
        nearest = pins[np.abs(pins[:, 0] - marks[0, 0]).argmin()]
        seen.append(marks - nearest)
    assert seen[0] == pytest.approx(seen[1], abs=1e-3)
    assert np.ptp(seen[0][:, 1]) > 10


@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_pdf_and_html_say_the_same_numbers(name: str, paper_job: Jobs) -> None:
    """Every number of the HTML page stands in the PDF and the other way round, feet of pages aside."""
    made = files(paper_job(name))
    foot = r"page \d+ of \d+|job .*, scalegen .*; sizes in"
    texts = (text_of(made["shop-sheet.pdf"]), words_of(made["shop-sheet.html"]))
    found = [sorted(re.findall(r"\d+(?:\.\d+)?", re.sub(foot, "", text))) for text in texts]
    assert len(found[0]) > 100
    assert found[0] == found[1]


@pytest.mark.parametrize("name", ["siskin", "curlew"])
def test_the_same_job_gives_the_same_bytes(name: str, paper_job: Jobs) -> None:
    """Drawn twice, all papers are the same byte for byte."""
    made = paper_job(name)
    assert files(made) == files(made)


@pytest.mark.parametrize("name", ["siskin", "harrier", "curlew"])
def test_fonts_are_embedded_and_free(name: str, paper_job: Jobs) -> None:
    """Both PDF files carry their own font, Bitstream Vera, so that they print the same everywhere."""
    made = files(paper_job(name))
    for file in ("shop-sheet.pdf", "template.pdf"):
        page = pdfium.PdfDocument(BytesIO(made[file]))[0]
        fonts = [
            raw.FPDFTextObj_GetFont(each.raw)
            for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=3)
        ]
        assert fonts
        for font in fonts:
            buffer = ctypes.create_string_buffer(100)
            raw.FPDFFont_GetBaseFontName(font, buffer, 100)
            assert b"Vera" in buffer.value
            assert raw.FPDFFont_GetIsEmbedded(font) == 1


BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def opened(page: Path, aside: Path) -> tuple[str, list[str]]:
    """What a browser says of a page on its console, and what the page asked for over a network."""
    log = aside / "net.json"
    words = (
        "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking"
    )
    words += " --disable-component-update --disable-sync --enable-logging=stderr --dump-dom"
    run = subprocess.run(
        [
            str(BROWSER),
            *words.split(),
            f"--user-data-dir={aside / 'profile'}",
            f"--log-net-log={log}",
            page.as_uri(),
        ],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert "</html>" in run.stdout, run.stderr
    said = "\n".join(line for line in run.stderr.splitlines() if "CONSOLE" in line)
    # One event a line; the browser's own requests have no page that began them.
    events = [
        (re.search(r'"initiator":"([^"]*)"', line), re.search(r'"url":"(https?://[^"]*)"', line))
        for line in log.read_text(errors="replace").splitlines()
    ]
    return said, [url[1] for begun, url in events if begun and url and begun[1] != "not an origin"]


@pytest.mark.skipif(BROWSER is None, reason="no chromium here")
def test_the_page_asks_for_nothing_and_has_no_fault(tmp_path: Path, paper_job: Jobs) -> None:
    """A browser opens the page without any request over a network and without a word on its console.

    A page that does ask for something, and complains, shows that both would be seen.
    """
    control = tmp_path / "control.html"
    control.write_text('<html><img src="http://127.0.0.1:9/x.png"><script>console.error("x")</script></html>')
    said, asked = opened(control, tmp_path)
    assert said
    assert set(asked) == {"http://127.0.0.1:9/x.png"}
    page = tmp_path / "shop-sheet.html"
    page.write_bytes(files(paper_job("harrier"))["shop-sheet.html"])
    assert opened(page, tmp_path) == ("", [])
