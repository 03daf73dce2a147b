"""Where pads stand on odd blanks, and layouts made there; distances by shapely, places by brute force."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.errors import SheetError, UsageError
from scalegen.model import JobSpec, Pad, Side
from scalegen.options import Typed, merged
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import Ground, PadBox, SheetLayout, Zone
from scalegen.sheet.pads import candidates, pads_on, places
from scalegen.sheet.rows import arranged
from scalegen.sheet.true_shapes import How
from scalegen.sheet.verify import verify

DISC = Ring.from_rows([[0, 50, 1], [100, 50, 1]])
LEFT = Ring.from_rows([[0, -5], [40, -5], [40, 8], [0, 5]])
RIGHT = Ring.from_rows([[0, -5], [40, -8], [40, 5], [0, 5]])
SHAPES: dict[Side, Ring] = {"left": LEFT, "right": RIGHT}
BLANK = SheetLayout(
    name="sheet",
    length_mm=100.0,
    width_mm=100.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=0.0, y_mm=0.0, w_mm=12.0, h_mm=12.0),
    origin="lower-left",
    placements=(),
    keep_clear_mm=4.0,
    outline=DISC,
)
PAD = Pad(width_mm=12.0, height_mm=12.0)


@pytest.mark.parametrize("corner", ["lower-left", "lower-right", "upper-left", "upper-right"])
def test_a_pad_on_a_disc_stands_nearest_the_corner(corner: str) -> None:
    """Its outer corner lies on the circle of 47 mm, on the diagonal: 50 sqrt(2) - 47 mm from the corner."""
    pad = pads_on(BLANK, replace(PAD, corner=corner)).pad  # type: ignore[arg-type]  # one of four words
    aim = 100.0 * corner.endswith("right"), 100.0 * corner.startswith("upper")
    corners = [(x, y) for x in (pad.x_mm, pad.x_mm + 12) for y in (pad.y_mm, pad.y_mm + 12)]
    near = min(math.dist(each, aim) for each in corners)
    assert near == pytest.approx(50 * math.sqrt(2) - 47, abs=0.02)
    assert max(math.dist(each, (50, 50)) for each in corners) <= 47


def test_places_for_a_box_are_those_that_brute_force_finds() -> None:
    """On a grid of spots, just those where shapely has the box inside the region are places."""
    region = shapely.Polygon(DISC.flatten(0.01)).difference(shapely.box(40, 30, 60, 45))
    spots = places(shapely.MultiPolygon([region]), 15.0, 9.0)
    grid = np.array([(x, y) for x in range(-5, 100, 3) for y in range(-5, 100, 3)], dtype=float)
    inside = [region.covers(shapely.box(x, y, x + 15, y + 9)) for x, y in grid]
    assert shapely.intersects_xy(spots, grid).tolist() == inside
    assert 50 < sum(inside) < len(grid)


def test_every_place_is_one_however_the_edges_run() -> None:
    """Of 40 blanks full of slanted ovals: at a point of each piece of the places the box lies inside."""
    for seed in range(40):
        chance = np.random.default_rng(seed)
        ovals = []
        for _ in range(6):
            disc = shapely.Point(*chance.uniform((20, 20), (280, 130))).buffer(chance.uniform(10, 25))
            ovals.append(affinity.scale(affinity.rotate(disc, chance.uniform(0, 90)), 3, 1))
        region = shapely.box(4, 4, 296, 146).difference(shapely.union_all(ovals))
        pieces = shapely.get_parts(places(region, 20.0, 20.0))
        spots = shapely.get_coordinates(shapely.point_on_surface(pieces))
        boxes = shapely.box(*spots.T, *(spots + 20).T)
        assert shapely.covers(region.buffer(1e-6), boxes).all()


def test_a_box_cut_to_measure_still_has_its_place() -> None:
    """A region just as large as the box has one place for it, and a hundredth less has none."""
    assert places(shapely.MultiPolygon([shapely.box(3, 3, 23, 13)]), 20.0, 10.0).bounds == pytest.approx(
        (3, 3, 3, 3), abs=1e-5
    )
    assert places(shapely.MultiPolygon([shapely.box(3, 3, 22.99, 13)]), 20.0, 10.0).is_empty


def test_a_second_pad_stands_clear_of_the_first() -> None:
    """Asked for in the same corner, the second pad goes beside the first."""
    blank = pads_on(BLANK, replace(PAD, second="lower-left"))
    one, two = (shapely.box(p.x_mm, p.y_mm, p.x_mm + p.w_mm, p.y_mm + p.h_mm) for p in blank.pads)
    assert one.intersection(two).area < 1e-6
    assert one.distance(two) < 1.0


def test_a_pad_that_finds_no_place_is_refused() -> None:
    """A flaw over the middle of a small disc leaves no room for the pad; the message says what to do."""
    flaw = Zone(ring=Ring.from_rows([[10, 10], [90, 10], [90, 90], [10, 90]]))
    with pytest.raises(SheetError, match="finds no place") as caught:
        pads_on(replace(BLANK, zones=(flaw,)), PAD)
    assert "--pad" in caught.value.remedy


def test_places_to_try_are_spread_and_sound() -> None:
    """No more than ten, all different, all inside the margin."""
    found = candidates(pads_on(BLANK, PAD))
    assert 4 <= len(found) <= 10
    assert len({(pad.x_mm, pad.y_mm) for pad in found}) == len(found)
    room = shapely.Point(50, 50).buffer(47.001, quad_segs=500)
    assert all(room.covers(shapely.box(p.x_mm, p.y_mm, p.x_mm + 12, p.y_mm + 12)) for p in found)


@pytest.mark.parametrize("corner", ["lower-left", "anywhere"])
@pytest.mark.parametrize("grain_deg", [0, 40])
def test_layouts_on_odd_blanks_pass_the_check(corner: str, grain_deg: float) -> None:
    """Scales on a disc with a hole and a flaw keep all distances and the grain, every time alike."""
    hole = Zone(ring=Ring.from_rows([[45, 20, 1], [55, 20, 1]]), kind="hole")
    flaw = Zone(ring=Ring.from_rows([[60, 75], [75, 75], [75, 85], [60, 85]]))
    grain = math.radians(grain_deg)
    pad = replace(PAD, corner=corner, second="upper-right")  # type: ignore[arg-type]  # a word for a place
    turns = (grain, grain + math.pi)
    made = [
        arranged(
            SHAPES,
            pattern="wren",
            pairs=None,
            length_mm=100.0,
            width_mm=100.0,
            margin_mm=3.0,
            spacing_mm=4.0,
            keep_clear_mm=4.0,
            pad=pad,
            origin="lower-left",
            how=How(turns_rad=turns),
            ground=Ground(outline=DISC, zones=(hole, flaw), grain_rad=grain),
        ).layouts
        for _ in range(2)
    ]
    assert verify(made[0], SHAPES, spacing_mm=4.0, margin_mm=3.0, keep_clear_mm=4.0, turns_rad=turns) == ()
    assert len(made[0][0].placements) >= 2
    assert len(made[0][0].pads) == 2
    assert made[0][0].placements == made[1][0].placements
    assert made[0][0].pads == made[1][0].pads


@pytest.mark.parametrize(
    ("pad", "typed", "where"),
    [
        (Pad(), Typed(second_pad="lower-left"), "--second-pad"),
        (Pad(), Typed(second_pad="upper-right", pad_corner="upper-right"), "--second-pad"),
        (Pad(second="upper-left"), Typed(pad_corner="upper-left"), "--second-pad"),
        (Pad(second="lower-left"), Typed(), "pad.second"),
    ],
)
def test_two_pads_in_one_corner_are_refused(pad: Pad, typed: Typed, where: str) -> None:
    """By options, by a batch file or by both; the corners that are free are named. Anywhere is no corner."""
    with pytest.raises(UsageError, match="both pads are to stand") as caught:
        merged(JobSpec(pad=pad), typed, "mm")
    assert (caught.value.where, caught.value.exit_code) == (where, 2)
    assert "choose another corner" in caught.value.remedy
    away = merged(JobSpec(), Typed(pad_corner="anywhere", second_pad="lower-left"), "mm")
    assert (away.pad.corner, away.pad.second) == ("anywhere", "lower-left")
