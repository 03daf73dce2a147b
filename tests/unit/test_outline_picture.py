"""A picture of a drawing: true to scale, numbered without collisions, explained, the same every time."""

import io
import math
import re
import sys
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from scalegen.errors import UsageError
from scalegen.outline.choose import contours_of
from scalegen.outline.join import Gap
from scalegen.outline.ring import Ring
from scalegen.outline.survey import Survey
from scalegen.report.outline_picture import Picture, draw_outline, picture_png, picture_svg
from scalegen.report.picture_lines import flat_points, seen_runs
from scalegen.report.picture_marks import LOOSE, OUTLINE, round_length_mm
from scalegen.report.picture_shapes import PALE, Curve, Disc, Label, cut_text, text_width_mm
from scalegen.report.picture_view import round_scale


def tang(x: float = 0, y: float = 0) -> Ring:
    """Straight sides of 100 mm, 25 mm apart, and half circles at both ends."""
    return Ring.from_rows([(x, y, 0), (x + 100, y, 1), (x + 100, y + 25, 0), (x, y + 25, 1)])


def circle(x: float, y: float, d: float = 2) -> Ring:
    """A full circle."""
    return Ring.from_rows([(x - d / 2, y, 1), (x + d / 2, y, 1)])


def usable(*others: Ring) -> Survey:
    """A survey whose outline is the tang."""
    contours = contours_of([tang(), *others])
    holes = tuple(c.circle for c in contours if c.circle)
    return Survey(units="mm", contours=contours, chosen=1, holes=holes)


def heavy(picture: Picture) -> list[Curve]:
    """The heavy closed curves."""
    return [s for s in picture.drawn if isinstance(s, Curve) and s.closed and s.pen == OUTLINE]


def texts(picture: Picture) -> str:
    """All that is written around the window."""
    return " | ".join(shape.text for shape in picture.over if isinstance(shape, Label))


def numbers(picture: Picture) -> dict[str, Disc]:
    """The numbered discs."""
    shapes = picture.drawn
    return {
        b.text: a
        for a, b in pairwise(shapes)
        if isinstance(a, Disc) and isinstance(b, Label) and b.text.isdigit()
    }


def test_the_scale_bar_measures_the_outline() -> None:
    """The outline's 125 mm, held against the bar and its length, must be 125 mm."""
    picture = draw_outline(usable(), "tang")
    (curve,) = heavy(picture)
    long = Ring.from_rows(curve.rows).bounds_mm
    bar = next(s for s in picture.over if isinstance(s, Curve) and not s.closed)
    told = next(s.text for s in picture.over if isinstance(s, Label) and s.text.endswith(" mm"))
    share = (long[2] - long[0]) / (bar.rows[1, 0] - bar.rows[0, 0])
    assert share * float(told.removesuffix(" mm")) == pytest.approx(125)


def test_svg_arcs_turn_the_right_way() -> None:
    """A slot's path must be lines and half circles that bulge outward, in a document sized in mm.

    Source: SVG 1.1, 8.3.8: with sweep flag 1 an arc is drawn in positive-angle direction (from memory).
    """
    picture = draw_outline(usable(), "tang")
    text = picture_svg(picture)
    root = ET.fromstring(text)  # noqa: S314 - written a line above
    assert root.attrib["width"] == "280mm"
    path = next(e.attrib["d"] for e in root.iter() if e.attrib.get("stroke-width") == "0.8")
    start, *rest = re.findall(r"([MLAZ])([^MLAZ]*)", path)
    assert [name for name, _ in rest] == ["L", "A", "L", "A", "Z"]
    x, y = map(float, start[1].split())
    line, arc = (list(map(float, rest[k][1].split())) for k in (0, 1))
    assert (line[0] > x, line[1]) == (True, y)
    assert arc[6] < y
    assert arc[0] == pytest.approx((y - arc[6]) / 2, abs=1e-3)
    # From low on the page to high on it around the right end is against the clock: flag 0.
    assert arc[4] == 0


def test_svg_is_the_same_every_time_and_safe() -> None:
    """Two drawings of one survey must be equal texts without scripts, whatever the title is."""
    first, second = (picture_svg(draw_outline(usable(), "<a>&\x1b\udc80")) for _ in range(2))
    assert first == second
    assert "<script" not in first
    assert "href" not in first
    assert ET.fromstring(first.encode()) is not None  # noqa: S314 - written above


def test_png_shows_inside_outline_and_paper() -> None:
    """Pixels must be pale inside the outline, white outside, dark on it, with shades between."""
    picture = draw_outline(usable(), "tang")
    image = Image.open(io.BytesIO(picture_png(picture, 800)))
    (curve,) = heavy(picture)
    scale = 800 / picture.width_mm
    x0, y0, x1, y1 = Ring.from_rows(curve.rows).bounds_mm
    middle = (x0 + x1) / 2 * scale
    assert image.size == (800, round(picture.height_mm * scale))
    assert image.getpixel((int(middle), int((y0 + y1) / 2 * scale))) == tuple(bytes.fromhex(PALE[1:]))
    assert image.getpixel((2, 2)) == (255, 255, 255)
    assert max(image.getpixel((int(middle), int(y1 * scale)))) < 60
    assert len(image.getcolors(100_000)) > 20


def test_png_without_pillow_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing Pillow must be a usage fault with the remedy, and so must an absurd width."""
    picture = draw_outline(usable(), "tang")
    with pytest.raises(UsageError, match="pixels"):
        picture_png(picture, 10)
    monkeypatch.setitem(sys.modules, "PIL", None)
    with pytest.raises(UsageError, match="Pillow") as caught:
        picture_png(picture)
    assert "pip install 'scalegen[scan]'" in caught.value.remedy


def test_numbers_do_not_collide_or_leave_the_window() -> None:
    """Discs must keep apart from each other and stay in the window, and every contour have its number."""
    holes = [circle(x, y) for x in range(5, 100, 16) for y in (6, 18)]
    picture = draw_outline(usable(*holes), "tang")
    discs = numbers(picture)
    assert len(discs) == 1 + len(holes)
    for a, b in combinations(discs.values(), 2):
        assert math.dist(a.at_mm, b.at_mm) > a.radius_mm + b.radius_mm
    left, top, right, bottom = picture.window_mm
    for disc in discs.values():
        assert left < disc.at_mm[0] - disc.radius_mm < disc.at_mm[0] + disc.radius_mm < right
        assert top < disc.at_mm[1] - disc.radius_mm < disc.at_mm[1] + disc.radius_mm < bottom


def test_of_very_many_contours_only_the_largest_have_numbers() -> None:
    """No more than 40 numbers may be drawn, none of them beyond the largest 40, and it is said."""
    rings = [circle(9 * (k % 30), 9 * (k // 30), 3 - k / 200) for k in range(300)]
    found = Survey(units="mm", contours=contours_of(rings))
    picture = draw_outline(found, "many")
    drawn = numbers(picture)
    assert 0 < len(drawn) <= 40
    assert max(map(int, drawn)) <= 40
    assert f"{len(drawn)} of 300 contours have their number here" in texts(picture)


def test_candidates_are_heavy_and_their_numbers_large() -> None:
    """Where it must be asked, all that could be meant are heavy, with larger numbers than the rest."""
    contours = contours_of([tang(), tang(0, 50), circle(150, 30, 9)])
    picture = draw_outline(Survey(units="mm", contours=contours, choices=(1, 2), reason="two"), "x")
    assert len(heavy(picture)) == 2
    size = {s.text: s.size_mm for s in picture.drawn if isinstance(s, Label)}
    assert size["1"] == size["2"] > size["3"]
    assert "could be the outline" in texts(picture)


def test_places_have_marks_and_a_legend() -> None:
    """Every kind of place must be explained with its count, and open chains be dashed, not only red."""
    found = Survey(
        units="mm",
        contours=contours_of([tang()]),
        choices=(1,),
        reason="x",
        gaps=(Gap(at_mm=(0, 0), size_mm=0.01),),
        open_ends=((10.0, 40.0), (60.0, 40.0)),
        loose=(np.array([[10.0, 40.0, 0.0], [60.0, 40.0, 0.0]]),),
        branches=((100.0, 25.0),),
        crossings=((50.0, 0.0),),
    )
    picture = draw_outline(found, "x")
    said = texts(picture)
    wanted = (
        "closed gap (1)",
        "open end (2)",
        "more than two ends meet (1)",
        "crosses or touches itself (1)",
    )
    assert all(words in said for words in (*wanted, "does not close"))
    assert [s for s in picture.drawn if isinstance(s, Curve) and s.pen == LOOSE]
    assert LOOSE.dash_mm


def test_what_lies_far_away_does_not_make_the_outline_small() -> None:
    """A stray circle 90 m off must be left away, counted, and the outline keep its size."""
    near, far = (draw_outline(usable(*rings), "x") for rings in ((), (circle(90_000, 0),)))
    spans = [np.ptp(heavy(picture)[0].rows[:, 0]) for picture in (near, far)]
    assert spans[1] > spans[0] / 3
    assert "not drawn: 1" in texts(far)


def test_nothing_to_draw_still_says_why() -> None:
    """A survey without any line must give a page with the reason."""
    picture = draw_outline(Survey(units="mm", reason="beyond 100 m", remedy="check the unit"), "x")
    assert "beyond 100 m" in texts(picture)
    assert picture_svg(picture).endswith("</svg>\n")


def test_flat_points_stay_on_the_arc() -> None:
    """Points of a quarter circle of radius 10 must lie on it, their chords within the tolerance.

    Source: bulge of a quarter circle tan(pi / 8); sagitta r (1 - cos(a / 2)) (elementary geometry).
    """
    rows = np.array([[10.0, 0.0, math.tan(math.pi / 8)], [0.0, 10.0, 0.0]])
    points = flat_points(rows, closed=False, tolerance=0.01)
    assert np.hypot(*points.T) == pytest.approx(np.full(len(points), 10.0))
    assert np.hypot(*((points[1:] + points[:-1]) / 2).T).min() > 10 - 0.0101


def test_dashes_and_boxes_cut_a_line() -> None:
    """A line of 10 in dashes of 2 and gaps of 1 must give 2, 2, 2, 1; a box from 3 to 5 leaves 2 of it."""
    line, low, high = np.array([[0.0, 0.0], [10.0, 0.0]]), np.array([-1.0, -1.0]), np.array([11.0, 1.0])
    lengths = [float(np.ptp(run[:, 0])) for run in seen_runs(line, low, high, (2.0, 1.0))]
    assert lengths == pytest.approx([2, 2, 2, 1])
    (run,) = seen_runs(line, np.array([3.0, -1.0]), np.array([5.0, 1.0]))
    assert run == pytest.approx(np.array([[3, 0], [5, 0]]))


@pytest.mark.parametrize(("most", "scale"), [(1.9, 1.75), (10, 10), (0.9, 0.8), (0.1, 0.1), (0.011, 0.01)])
def test_scales_are_round_and_fit(most: float, scale: float) -> None:
    """The scale must be the next round one below what fits."""
    assert round_scale(most) == pytest.approx(scale)


@pytest.mark.parametrize(("most", "length"), [(60, 50), (50, 50), (4.9, 2), (0.0199, 0.01), (1, 1)])
def test_scale_bars_have_round_lengths(most: float, length: float) -> None:
    """The bar must be the longest of 1, 2, 5 and so on that fits."""
    assert round_length_mm(most) == pytest.approx(length)


@pytest.mark.parametrize("text", ["short", "long " * 60, "\N{CJK UNIFIED IDEOGRAPH-5200}" * 200])
def test_cut_texts_fit(text: str) -> None:
    """A text must fit into its width, and stay whole where it does."""
    cut = cut_text(text, 6.0, 200.0)
    assert text_width_mm(cut, 6.0) <= 200.0
    assert (cut == text) == (text_width_mm(text, 6.0) <= 200.0)
