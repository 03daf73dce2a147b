"""SVG drawings as a whole: sizes, what is shown, what is left out, what is refused."""

import gzip
from pathlib import Path

import numpy as np
import pytest

from scalegen.errors import PatternError
from scalegen.model import Units
from scalegen.outline.drawing import Drawing
from scalegen.outline.read import outline_from_drawing
from scalegen.outline.read_svg import read_drawing

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
MM = 'width="100mm" height="50mm" viewBox="0 0 100 50"'


def read(folder: Path, inner: str, head: str = MM, *, units: Units | None = None) -> Drawing:
    """A drawing with some elements in it."""
    path = folder / "a.svg"
    path.write_text(f"<svg {NS} {head}>{inner}</svg>", encoding="utf-8")
    return read_drawing(path, units=units, where="a.svg")


def box(drawing: Drawing) -> list[float]:
    """Box of all pieces' points."""
    points = np.vstack([piece.rows[:, :2] for piece in drawing.pieces])
    return [*points.min(axis=0).tolist(), *points.max(axis=0).tolist()]


RECT = '<rect x="10" y="20" width="30" height="5"/>'


def test_y_points_up(tmp_path: Path) -> None:
    """What lies further down on the page lies lower in the drawing."""
    assert box(read(tmp_path, RECT)) == pytest.approx([10, -25, 40, -20])


@pytest.mark.parametrize(
    ("outer", "want"),
    [
        ('transform="translate(5,2)"', [15, -27, 45, -22]),
        ('style="transform: translate(5px, 2px)"', [15, -27, 45, -22]),
        ('transform="rotate(90)"', [-25, -40, -20, -10]),
        ('style="transform:rotate(0.25turn)"', [-25, -40, -20, -10]),
        ('transform="rotate(90 10 20)"', [5, -50, 10, -20]),
        ('transform="rotate(90)" style="transform-origin: 10px 20px"', [5, -50, 10, -20]),
        ('transform="scale(2 -1)"', [20, 20, 80, 25]),
        ('transform="matrix(1 0 0 1 1 1),scale(2)"', [21, -51, 81, -41]),
        ('transform="skewX(45)"', [30, -25, 65, -20]),
        ('transform="skewY(45)"', [10, -65, 40, -30]),
    ],
)
def test_transforms(tmp_path: Path, outer: str, want: list[float]) -> None:
    """Every transform function, as attribute or in style, moves the shape as the SVG text says."""
    assert box(read(tmp_path, f"<g {outer}><g>{RECT}</g></g>")) == pytest.approx(want)


def test_use_moves_what_it_refers_to(tmp_path: Path) -> None:
    """A use draws its target again, moved by its own transform and then by x and y."""
    inner = '<defs><rect id="r" width="2" height="1"/></defs>'
    drawing = read(tmp_path, inner + '<use xlink:href="#r" transform="scale(2)" x="3" y="4"/>')
    assert box(drawing) == pytest.approx([6, -10, 10, -8])


def test_symbol_is_fitted_into_its_place(tmp_path: Path) -> None:
    """A symbol's view box is scaled into the width and height of the use, in the middle."""
    inner = '<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
    drawing = read(tmp_path, inner + '<use href="#s" x="20" y="10" width="8" height="4"/>')
    assert box(drawing) == pytest.approx([22, -12, 26, -12])


def test_nested_svg(tmp_path: Path) -> None:
    """A drawing within a drawing has its own place and its own units."""
    drawing = read(tmp_path, f'<svg x="10" y="5" width="50" height="25" viewBox="0 0 100 50">{RECT}</svg>')
    assert box(drawing) == pytest.approx([15, -17.5, 30, -15])


def test_percentages_are_shares_of_the_view_box(tmp_path: Path) -> None:
    """A background of 100 % is as large as the view box."""
    assert box(read(tmp_path, '<rect width="100%" height="100%"/>')) == pytest.approx([0, -50, 100, 0])


@pytest.mark.parametrize("head", ["", 'width="100%" height="100%" viewBox="0 0 9 9"', 'viewBox="0 0 9 9"'])
def test_without_a_real_size_it_asks(tmp_path: Path, head: str) -> None:
    """No width or height in a real unit: refused, with the setting that helps and how large it would be."""
    with pytest.raises(
        PatternError,
        match=r"--units mm or --units in(.|\n)*outline_units(.|\n)*as mm makes the drawing 30 mm",
    ) as caught:
        read(tmp_path, RECT, head)
    assert caught.value.exit_code == 3


@pytest.mark.parametrize(("units", "wide"), [("mm", 30.0), ("in", 762.0)])
def test_stated_units_go_first(tmp_path: Path, units: Units, wide: float) -> None:
    """A stated unit is the length of one user unit, whatever the file says; a difference is noted."""
    drawing = read(tmp_path, RECT, 'width="7in" height="1in" viewBox="0 0 9 9"', units=units)
    assert np.ptp(drawing.pieces[0].rows[:, 0]) == pytest.approx(wide)
    assert "stated" in drawing.notes[0]


@pytest.mark.parametrize(
    ("inner", "kind"),
    [
        ('<g style="display:none"><path d="M0 0h9v9z"/></g>', "<g>"),
        ('<path class="off" d="M0 0h9v9z"/>', "<path>"),
        ('<g visibility="hidden"><path d="M0 0h9v9z"/></g>', "<path>"),
        ("<text>words</text>", "<text>"),
        ('<image width="9" height="9"/>', "<image>"),
        ("<defs><linearGradient/></defs>", "<linearGradient>"),
        ('<use href="other.svg#a"/>', "<use>"),
        ('<path d="M0 0 L5 5 L x"/>', "<path>"),
    ],
)
def test_left_out_is_said(tmp_path: Path, inner: str, kind: str) -> None:
    """What is hidden, no curve, elsewhere or faulty is not read, and each is named."""
    drawing = read(tmp_path, "<style>.off {display: none !important}</style>" + inner)
    assert not drawing.pieces
    assert [item.kind for item in drawing.left_out] == [kind]


def test_shown_in_spite_of_hidden_group_or_opacity(tmp_path: Path) -> None:
    """Visibility can be turned on again inside; full transparency is not being hidden."""
    inner = f'<g visibility="hidden"><g visibility="visible" opacity="0">{RECT}</g></g>'
    assert len(read(tmp_path, inner).pieces) == 1


def test_uneven_scale_makes_no_pin_hole(tmp_path: Path) -> None:
    """A circle drawn under unequal scales is an ellipse and not among the holes; a true one is."""
    holes = '<circle cx="20" cy="25" r="2"/><circle cx="60" cy="12" r="2" transform="scale(1 2)"/>'
    drawing = read(tmp_path, '<rect width="100" height="50"/>' + holes)
    assert outline_from_drawing(drawing, where="a").holes == (pytest.approx((20, -25, 4)),)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f'<svg {NS} {MM}><g id="a"><use href="#a"/></g></svg>', "back to itself"),
        (
            f'<svg {NS} {MM}><g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g></svg>',
            "back to itself",
        ),
        (f'<!DOCTYPE svg [<!ENTITY x SYSTEM "a.txt">]><svg {NS}><text>&x;</text></svg>', "outside the file"),
        (f'<!DOCTYPE svg [<!ENTITY x "&y;&y;"><!ENTITY y "ab">]><svg {NS}/>', "short text"),
        ("<html/>", "begins with <html>"),
        ("<svg", "not a sound SVG"),
        ("", "not a sound SVG"),
        (f"<svg {NS}>" + "<g>" * 500 + "</g>" * 500 + "</svg>", "levels deep"),
    ],
)
def test_refused(tmp_path: Path, text: str, words: str) -> None:
    """Loops, entities beyond a short text, other files and broken ones get one refusal that says why."""
    path = tmp_path / "a.svg"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PatternError, match=words):
        read_drawing(path, units="mm", where="a.svg")


def test_uses_that_multiply_are_refused(tmp_path: Path) -> None:
    """Uses of uses that would draw a hundred million shapes are refused soon."""
    steps = "".join(
        f'<g id="a{k}">{f"<use href={chr(34)}#a{k - 1}{chr(34)}/>" * 10}</g>' for k in range(1, 9)
    )
    with pytest.raises(PatternError, match="more than 7000 shapes"):
        read(tmp_path, f'<defs><g id="a0">{RECT}</g>{steps}</defs><use href="#a8"/>')


def test_short_entities_and_compressed_files_are_read(tmp_path: Path) -> None:
    """Entities that only shorten a name are harmless, and so is gzip."""
    text = f'<!DOCTYPE svg [<!ENTITY n "http://www.w3.org/2000/svg">]><svg xmlns="&n;" {MM}>{RECT}</svg>'
    path = tmp_path / "a.svgz"
    path.write_bytes(gzip.compress(text.encode()))
    assert len(read_drawing(path, units=None, where="a").pieces) == 1


def test_missing_file_is_said(tmp_path: Path) -> None:
    """A file that is not there is a plain message."""
    with pytest.raises(PatternError, match="cannot be opened"):
        read_drawing(tmp_path / "none.svg", units=None, where="a")


OUTLINE = "M20 20C50 10 90 12 120 18C128 24 126 38 118 42C90 46 50 40 20 44Z"
PAGE = 'width="210mm" height="297mm" viewBox="0 0 210 297"'


@pytest.mark.parametrize(
    "inner",
    [
        '<defs><path d="M0 0h9v9z"/></defs>',
        '<symbol><path d="M0 0h9v9z"/></symbol>',
        '<clipPath id="c"><path d="M0 0h9v9z"/></clipPath>',
        '<mask id="m"><path d="M0 0h9v9z"/></mask>',
        '<marker><path d="M0 0h9v9z"/></marker>',
        '<pattern><path d="M0 0h9v9z"/></pattern>',
    ],
)
def test_what_is_only_kept_ready_is_not_drawn(tmp_path: Path, inner: str) -> None:
    """Definitions, symbols, clip paths, masks, markers and patterns draw nothing by themselves."""
    drawing = read(tmp_path, inner + RECT)
    assert len(drawing.pieces) == 1
    assert box(drawing) == pytest.approx([10, -25, 40, -20])


def test_background_rectangle_is_not_the_outline(tmp_path: Path) -> None:
    """A page filled with white is the largest contour; the outline on it is taken, with a note."""
    drawing = read(tmp_path, f'<rect width="100%" height="100%" fill="white"/><path d="{OUTLINE}"/>', PAGE)
    found = outline_from_drawing(drawing, where="a")
    assert found.ring.bounds_mm[2] - found.ring.bounds_mm[0] == pytest.approx(106, abs=1)
    assert any("background" in note for note in found.notes)


def test_packed_arc_flags_in_a_file(tmp_path: Path) -> None:
    """Flags without anything between them and the next number: half a disc of radius 10 each way."""
    drawing = read(tmp_path, '<path d="M10 10a10 10 0 1120 0a10 10 0 1 1-20 0"/>')
    assert outline_from_drawing(drawing, where="a").ring.area_mm2 == pytest.approx(100 * np.pi)


def test_width_and_height_against_the_view_box(tmp_path: Path) -> None:
    """Width and height give the size; the view box only says what is shown in it."""
    drawing = read(tmp_path, RECT, 'width="4in" height="2in" viewBox="0 0 100 50"')
    assert np.ptp(drawing.pieces[0].rows[:, 0]) == pytest.approx(30 * 4 * 25.4 / 100)


def bumpy(x: float, y: float, radius: float, count: int) -> str:
    """A closed path of cubics that meet without a kink."""
    angles = 2 * np.pi * np.arange(count) / count
    reach = radius * (1 + 0.1 * np.cos(3 * angles))
    points = np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)])
    ahead, arm = np.roll(points, -1, axis=0), (np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)) / 6
    table = np.hstack([points + arm, ahead - np.roll(arm, -1, axis=0), ahead])
    start = f"M{points[0, 0]:.5f} {points[0, 1]:.5f}"
    return start + "".join("C" + " ".join(f"{v:.5f}" for v in row) for row in table) + "Z"


def test_a_detailed_drawing_is_read(tmp_path: Path) -> None:
    """Five hundred paths of curves beside the outline: none is left out, and the outline is found."""
    small = "".join(f'<path d="{bumpy(10 + 7 * (k % 25), 60 + 7 * (k // 25), 2, 8)}"/>' for k in range(500))
    drawing = read(tmp_path, f'<path d="{OUTLINE}"/>' + small, PAGE)
    assert (len(drawing.pieces), len(drawing.left_out)) == (501, 0)
    assert outline_from_drawing(drawing, where="a").ring.area_mm2 > 2000
    assert any("curve by curve" in note for note in drawing.notes)


def test_a_gear_with_a_thousand_teeth_is_read(tmp_path: Path) -> None:
    """A path of 4,000 cubics, too much for careful work, is read, with the area of its own formula."""
    drawing = read(tmp_path, f'<path d="{bumpy(100, 100, 60, 4000)}"/>', PAGE)
    # r = R (1 + c cos 3t) encloses pi R^2 (1 + c^2 / 2) (integral of r^2 / 2).
    ring = outline_from_drawing(drawing, where="a").ring
    want = np.pi * 3600 * (1 + 0.005)
    assert abs(ring.area_mm2 - want) < 0.005 * ring.perimeter_mm


def test_the_outline_is_worked_on_most_carefully(tmp_path: Path) -> None:
    """The largest curves get few arcs, however many small ones stand before them in the file."""
    small = "".join(f'<path d="{bumpy(10 + 7 * k, 60, 2, 8)}"/>' for k in range(25)) * 2
    alone = read(tmp_path, f'<path d="{OUTLINE}"/>', PAGE)
    among = read(tmp_path, small + f'<path d="{OUTLINE}"/>', PAGE)
    assert np.array_equal(alone.pieces[0].rows, among.pieces[-1].rows)
    assert len(alone.pieces[0].rows) <= 40


@pytest.mark.parametrize(
    ("inner", "words"),
    [
        ('<path d="M0 0' + "L1 1" * 100_001 + '"/>', "100000 lines and curves"),
        ('<polygon points="' + "1 1 " * 100_002 + '"/>', "100000 lines and curves"),
        ('<path d="M0 0' + "C9 0 0 9 -9 3" * 30_000 + '"/>', "100000 arcs"),
        ("<g/>" * 60_001, "60000 elements"),
        ('<g a="">' + "=" * 600_001 + "</g>", "600000 attributes"),
    ],
)
def test_limits_are_counts(tmp_path: Path, inner: str, words: str) -> None:
    """Too much of anything is refused by number, the same on every machine."""
    with pytest.raises(PatternError, match=words):
        read(tmp_path, inner)


def test_gzip_bomb_is_refused(tmp_path: Path) -> None:
    """A small file that unpacks to more than 64 MB is not unpacked any further."""
    path = tmp_path / "a.svgz"
    path.write_bytes(gzip.compress(bytes(70_000_000), 1))
    with pytest.raises(PatternError, match="more than 64 MB"):
        read_drawing(path, units="mm", where="a")


def test_style_rules_about_looks_are_passed_over(tmp_path: Path) -> None:
    """However many rules there are about colours, one that hides still counts."""
    looks = "".join(f".c{k}{{fill:red}}" for k in range(1000))
    drawing = read(tmp_path, f'<style>{looks}.off{{display:none}}</style><g class="off c1">{RECT}</g>')
    assert not drawing.pieces


def test_transform_of_the_whole_drawing_is_said(tmp_path: Path) -> None:
    """Versions of SVG differ about a transform of the outermost element: it is not applied, with a note."""
    drawing = read(tmp_path, RECT, MM + ' transform="scale(2)"')
    assert np.ptp(drawing.pieces[0].rows[:, 0]) == pytest.approx(30)
    assert any("was not applied" in note for note in drawing.notes)


def test_a_view_box_beyond_reason_is_no_size(tmp_path: Path) -> None:
    """A view box smaller than any number can divide by tells no size, so the tool asks."""
    with pytest.raises(PatternError, match=r"real size .*beyond reason"):
        read(tmp_path, RECT, 'width="9mm" height="9mm" viewBox="0 0 1e-320 1e-320"')


def test_transforms_beyond_reason_are_left_out(tmp_path: Path) -> None:
    """Scales upon scales that no number can hold are said, without a warning from the arithmetic."""
    drawing = read(tmp_path, '<g transform="scale(1e9)">' * 40 + RECT + "</g>" * 40)
    assert [item.kind for item in drawing.left_out] == ["<g>"]
    assert "beyond reason" in drawing.left_out[0].reason


def test_pixels_can_be_stated(tmp_path: Path) -> None:
    """A drawing without a size, stated to be in pixels, is 1/96 in to the unit (CSS Values and Units)."""
    path = tmp_path / "a.svg"
    text = '<svg xmlns="http://www.w3.org/2000/svg"><rect width="384" height="96"/></svg>'
    path.write_text(text, encoding="utf-8")
    drawing = read_drawing(path, units="px", where="a.svg")
    x0, y0, x1, y1 = outline_from_drawing(drawing, where="a.svg").ring.bounds_mm
    assert (x1 - x0, y1 - y0) == pytest.approx((101.6, 25.4))
