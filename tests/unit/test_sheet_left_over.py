"""What is left over of a blank: pieces clear of every cut, whole, and large enough to be of use."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from scalegen.outline.measure import distances_mm, inside, sampled
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import LeftOver, PadBox, Placement, SheetLayout
from scalegen.sheet.left_over import Worth, has_room, left_over, room_for_one

CUT_MM = 3.0
BAR = Ring.from_rows([(0, 0), (60, 0), (60, 20), (0, 20)])
LENS = Ring.from_rows([(0, 0, 0.3), (70, 0, 0.3)])
LARGE = Worth(length_mm=40.0, width_mm=20.0)


def _layout(*placements: Placement, pad: tuple[float, float] = (0.0, 0.0)) -> SheetLayout:
    return SheetLayout(
        name="sheet-1",
        length_mm=200.0,
        width_mm=100.0,
        margin_mm=0.0,
        spacing_mm=5.0,
        pad=PadBox(x_mm=pad[0], y_mm=pad[1], w_mm=10.0, h_mm=10.0),
        origin="lower-left",
        placements=placements,
    )


def _place(x: float, y: float, angle_rad: float = 0.0, pattern: str = "bar") -> Placement:
    return Placement(label="1L", pattern=pattern, side="left", x_mm=x, y_mm=y, angle_rad=angle_rad)


def _pieces(layout: SheetLayout, worth: Worth = LARGE) -> tuple[LeftOver, ...]:
    return left_over(layout, {"bar": {"left": BAR}, "lens": {"left": LENS}}, CUT_MM, worth)


def _polygon(piece: LeftOver) -> shapely.Polygon:
    return shapely.Polygon(
        [row[:2] for row in piece.outline], [[row[:2] for row in zone] for zone in piece.zones]
    )


def test_what_a_cut_right_across_leaves_is_two_rectangles() -> None:
    """A bar as high as the blank, cut all round: closed form, length times width either side of the cut.

    The pad lies in the corner of the left piece; the disc reaches into the corners that it makes, which are
    square and hollow, so all of the piece but 0.15 mm along the cut and round the pad is told.
    """
    tall = Placement(label="1L", pattern="bar", side="left", x_mm=120.0, y_mm=0.0, angle_rad=math.pi / 2)
    wide = left_over(
        _layout(tall),
        {"bar": {"left": Ring.from_rows([(0, 0), (100, 0), (100, 30), (0, 30)])}},
        CUT_MM,
        LARGE,
    )
    assert len(wide) == 2
    right, left = sorted(wide, key=lambda piece: piece.outline[0][0], reverse=True)
    # The bar covers x from 90 to 120; the pieces end a cut's width beside it.
    assert (200 - 123 - 0.15) * 100 <= right.area_mm2 <= (200 - 123) * 100
    assert (87 - 0.15) * 100 - 100 - 0.15 * 20 <= left.area_mm2 <= 87 * 100 - 100
    assert all(isinstance(piece.outline, tuple) and not piece.zones for piece in wide)
    assert {(200.0, 0.0), (200.0, 100.0)} <= {row[:2] for row in right.outline}


def test_scales_in_the_middle_are_holes() -> None:
    """A blank cut in its middle hangs together as a frame with a hole as large as scale and cut.

    Closed form by Steiner: area of the bar grown by the cut is A + P r + pi r^2.
    """
    (frame,) = _pieces(_layout(_place(70, 40), pad=(0, 0)))
    assert len(frame.zones) == 1
    hole = Ring.from_rows(frame.zones[0]).area_mm2

    def steiner(r: float) -> float:
        return 60 * 20 + 160 * r + math.pi * r * r

    assert steiner(CUT_MM) <= hole <= steiner(CUT_MM + 0.15)
    assert frame.area_mm2 == pytest.approx(shapely.area(_polygon(frame)))


@pytest.mark.parametrize("seed", range(6))
def test_no_piece_comes_near_a_cut(seed: int) -> None:
    """Random layouts, measured on lines and arcs themselves: every piece keeps clear of cut, pad and edge."""
    random = np.random.default_rng(seed)
    places = [
        _place(
            *random.uniform((20, 20), (180, 80)).tolist(),
            angle_rad=float(random.uniform(0, 6)),
            pattern=["bar", "lens"][k % 2],
        )
        for k in range(4)
    ]
    layout = _layout(*places, pad=(random.uniform(0, 190), random.uniform(0, 90)))
    pieces = _pieces(layout, Worth(length_mm=25.0, width_mm=15.0))
    for piece in pieces:
        for rows in (piece.outline, *piece.zones):
            points = sampled(Ring.from_rows(rows), 0.25)
            assert points.min() >= 0
            assert np.all(points <= [200, 100])
            own = points - [layout.pad.x_mm, layout.pad.y_mm]
            assert not np.any(np.all((own > 1e-9) & (own < 10 - 1e-9), axis=1))
            for place in places:
                ring = {"bar": BAR, "lens": LENS}[place.pattern]
                c, s = math.cos(place.angle_rad), math.sin(place.angle_rad)
                back = (points - [place.x_mm, place.y_mm]) @ np.array([[c, -s], [s, c]])
                assert distances_mm(ring, back).min() >= CUT_MM
                assert not inside(ring, back).any()
    for one, other in pairwise(pieces):
        assert one.area_mm2 >= other.area_mm2
        assert not _polygon(one).intersects(_polygon(other))


def test_slivers_and_necks_drop_out() -> None:
    """Strips narrower than half the least width are no pieces, nor do they hold pieces together."""
    ring = Ring.from_rows([(0, 0), (197 - 2 * CUT_MM, 0), (197 - 2 * CUT_MM, 20), (0, 20)])
    layout = _layout(_place(CUT_MM, 40, pattern="long"), pad=(0, 0))
    two = left_over(layout, {"long": {"left": ring}}, CUT_MM, LARGE)
    # What is beside its end is 3 mm wide.
    assert len(two) == 2
    assert all(max(row[1] for row in p.outline) <= 37 or min(row[1] for row in p.outline) >= 63 for p in two)


@pytest.mark.parametrize("seed", range(5))
def test_room_is_judged_as_by_trying_every_place(seed: int) -> None:
    """Whether a rectangle goes into a piece, against brute force: the rectangle tried every 0.5 mm."""
    random = np.random.default_rng(seed)
    points = shapely.points(random.uniform((0, 0), (100, 60), (9, 2)))
    piece = shapely.union_all(shapely.buffer(points, random.uniform(8, 16, 9)))
    piece = max(shapely.get_parts(piece), key=lambda part: part.area)
    x0, y0, x1, y1 = piece.bounds
    xs, ys = (grid.ravel() for grid in np.meshgrid(np.arange(x0, x1, 0.5), np.arange(y0, y1, 0.5)))
    shapely.prepare(piece)
    verdicts = set()
    for length, width in ((10.0, 8.0), (30.0, 10.0), (12.0, 40.0), (50.0, 20.0), (70.0, 5.0)):
        found = bool(shapely.contains(piece, shapely.box(xs, ys, xs + length, ys + width)).any())
        loose = shapely.contains(piece.buffer(1.0), shapely.box(xs, ys, xs + length, ys + width)).any()
        said = has_room(piece, Worth(length_mm=length, width_mm=width))
        assert said or not found
        assert not said or loose
        verdicts.add(said)
    assert verdicts == {True, False}


def test_a_rectangle_just_fits_itself() -> None:
    """A piece as large as what must go into it is worth keeping; a hair less is not."""
    piece = shapely.box(0, 0, 40, 20)
    assert has_room(piece, LARGE)
    assert not has_room(piece, Worth(length_mm=40.001, width_mm=20))
    assert not has_room(shapely.difference(piece, shapely.box(19, 9, 21, 11)), LARGE)


def test_room_for_one_is_the_smallest_scale_and_its_margin() -> None:
    """Of two patterns the smaller one counts, with the margin on all sides."""
    worth = room_for_one([{"left": BAR}, {"left": Ring.from_rows([(0, 0), (90, 0), (90, 30)])}], 3.0)
    assert (worth.length_mm, worth.width_mm) == (66, 26)


def test_a_blank_cut_up_leaves_nothing() -> None:
    """Where nothing takes the rectangle, there is no piece."""
    assert _pieces(_layout(_place(70, 40)), Worth(length_mm=190, width_mm=60)) == ()


def test_worth_is_judged_along_the_grain() -> None:
    """With the grain across, what must go in along it goes across the sheet: 100 mm do, 180 mm do not."""
    layout = replace(_layout(), grain_rad=math.pi / 2)
    assert len(_pieces(layout, Worth(length_mm=95, width_mm=30))) == 1
    assert _pieces(layout, Worth(length_mm=180, width_mm=30)) == ()
    assert len(_pieces(_layout(), Worth(length_mm=180, width_mm=30))) == 1
