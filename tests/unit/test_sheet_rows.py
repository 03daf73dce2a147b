"""Pairs onto blanks."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scalegen.errors import SheetError
from scalegen.model import Corner, Pad, Side
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.rows import arrange
from scalegen.sheet.verify import verify

CORNERS: tuple[Corner, ...] = ("lower-left", "lower-right", "upper-left", "upper-right")
USUAL: dict[str, Any] = {
    "pattern": "wren",
    "pairs": 1,
    "length_mm": 305.0,
    "width_mm": 152.0,
    "margin_mm": 3.0,
    "spacing_mm": 4.5,
    "pad": Pad(),
    "origin": "lower-left",
    "keep_clear_mm": 0.0,
}


def footprints(rows: list[list[float]]) -> dict[Side, Ring]:
    """A left outline and its mirror image across the x axis."""
    left = Ring.from_rows(rows)
    right = Ring.from_rows(left.rows * np.array([1.0, -1.0, -1.0]))
    return {"left": left, "right": right}


def box(length_mm: float, width_mm: float) -> dict[Side, Ring]:
    """Two rectangles."""
    half = width_mm / 2
    return footprints([[0, -half], [length_mm, -half], [length_mm, half], [0, half]])


def tapered() -> dict[Side, Ring]:
    """78 x 22 mm, 12 mm wide at the front, rounded at the butt."""
    return footprints([[0, -6, 0], [70, -11, 0.414], [78, -3, 0], [78, 3, 0.414], [70, 11, 0], [0, 6, 0]])


def lay(shapes: dict[Side, Ring], **changes: Any) -> tuple[SheetLayout, ...]:
    """Arrange with the usual sizes but for some."""
    return arrange(shapes, **(USUAL | changes))


def counts(layouts: tuple[SheetLayout, ...]) -> list[int]:
    """Pairs on each blank."""
    return [len(layout.placements) // 2 for layout in layouts]


@pytest.mark.parametrize("corner", CORNERS)
def test_layouts_pass_the_check(corner: Corner) -> None:
    """With the pad in any corner, what is arranged has spacing, margin, pad and labels right."""
    shapes = tapered()
    layouts = lay(shapes, pairs=11, pad=Pad(corner=corner), keep_clear_mm=6.0)
    assert verify(layouts, shapes, spacing_mm=4.5, margin_mm=3.0, keep_clear_mm=6.0, pairs=11) == ()


@pytest.mark.parametrize(
    ("corner", "expected"),
    [
        ("lower-left", (3.0, 3.0)),
        ("lower-right", (272.0, 3.0)),
        ("upper-left", (3.0, 139.0)),
        ("upper-right", (272.0, 139.0)),
    ],
)
def test_pad_stands_in_its_corner_inside_the_margin(corner: Corner, expected: tuple[float, float]) -> None:
    """A pad of 30 x 10 mm has its outer edges on the margin of 3 mm."""
    pad = lay(tapered(), pad=Pad(corner=corner, width_mm=30.0, height_mm=10.0))[0].pad
    assert (pad.x_mm, pad.y_mm, pad.w_mm, pad.h_mm) == (*expected, 30.0, 10.0)


@pytest.mark.parametrize("corner", CORNERS)
def test_boxes_that_fill_the_blank_exactly_all_find_room(corner: Corner) -> None:
    """Six boxes that take up the area inside the margin to the last micron go on one blank."""
    length, width = 2 * 80 + 4.5 + 6.0, 3 * 20 + 2 * 4.5 + 20.0 + 4.5 + 6.0
    shapes = box(80.0, 20.0)
    pad = Pad(corner=corner, width_mm=164.5, height_mm=20.0)
    layouts = lay(shapes, pairs=3, length_mm=length, width_mm=width, pad=pad)
    assert counts(layouts) == [3]
    assert verify(layouts, shapes, spacing_mm=4.5, margin_mm=3.0, pairs=3) == ()


def test_tapered_scales_go_closer_than_their_boxes() -> None:
    """True shapes find room for more pairs than rows of boxes, of which 305 x 152 mm holds seven."""
    assert counts(lay(tapered(), pairs=20))[0] >= 8


def test_pairs_are_numbered_through_all_blanks() -> None:
    """Labels run 1L, 1R, 2L... across the blanks, and every pair stays on one of them."""
    layouts = lay(box(112.0, 27.0), pairs=10)
    assert counts(layouts) == [4, 4, 2]
    labels = [placement.label for layout in layouts for placement in layout.placements]
    assert labels == [f"{number}{letter}" for number in range(1, 11) for letter in "LR"]
    assert [layout.name for layout in layouts] == ["sheet-1", "sheet-2", "sheet-3"]


def test_scales_lie_along_the_grain() -> None:
    """Nothing is turned by anything but nothing or half a turn."""
    angles = {placement.angle_rad for layout in lay(tapered(), pairs=9) for placement in layout.placements}
    assert angles <= {0.0, math.pi}


@pytest.mark.parametrize("width_mm", [90.0, 120.0, 152.0])
def test_partners_stand_side_by_side(width_mm: float) -> None:
    """The two scales of a pair are never farther apart than two spacings and a millimetre."""
    shapely = pytest.importorskip("shapely")
    shapes = tapered()
    for layout in lay(shapes, pairs=9, width_mm=width_mm):
        polygons = [shapely.Polygon(p.place(shapes[p.side].flatten())) for p in layout.placements]
        gaps = [a.distance(b) for a, b in zip(polygons[::2], polygons[1::2], strict=True)]
        assert max(gaps) < 2 * 4.5 + 1.0


def test_same_job_same_layout() -> None:
    """Two runs place everything at the same numbers."""
    assert lay(tapered(), pairs=9) == lay(tapered(), pairs=9)


def test_origin_changes_nothing_on_the_sheet() -> None:
    """The origin corner is carried along; placements stay where they are."""
    here, there = lay(tapered(), pairs=3)[0], lay(tapered(), pairs=3, origin="upper-right")[0]
    assert there == replace(here, origin="upper-right")


def test_error_says_how_much_is_missing() -> None:
    """A box of 118.4 mm on 110 mm of room is 8.4 mm too short, and the user is told so."""
    with pytest.raises(
        SheetError, match=r"118\.4 × 56\.5 mm.* 110\.0 × 146\.0 mm: 8\.4 mm too short"
    ) as told:
        lay(box(118.4, 26.0), length_mm=116.0)
    assert told.value.remedy
    assert told.value.exit_code == 5


def test_error_names_both_directions() -> None:
    """A blank that is too small both ways says both."""
    with pytest.raises(SheetError, match=r"10\.0 mm too short and 6\.5 mm too narrow"):
        lay(box(120.0, 26.0), length_mm=116.0, width_mm=56.0)


def test_error_blames_the_pad_when_only_the_pad_is_in_the_way() -> None:
    """Room enough for the pair alone, but not for the pad as well."""
    with pytest.raises(SheetError, match="the pad of 20\\.0 × 20\\.0 mm is in the way"):
        lay(box(112.0, 27.0), length_mm=124.0, width_mm=70.0)


def test_a_pair_may_lie_in_line_on_a_narrow_blank() -> None:
    """Where two scales do not go one above the other, they go one behind the other."""
    shapes = box(80.0, 20.0)
    layouts = lay(shapes, length_mm=200.0, width_mm=32.0, pad=Pad(width_mm=15.0, height_mm=15.0))
    assert counts(layouts) == [1]
    assert verify(layouts, shapes, spacing_mm=4.5, margin_mm=3.0, pairs=1) == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pairs": 0}, "pairs: 0 pairs asked for"),
        ({"spacing_mm": -1.0}, "spacing: is -1 mm"),
        ({"length_mm": math.nan}, "sheet length: is nan mm"),
        ({"width_mm": math.inf}, "sheet width: is inf mm"),
        ({"pad": Pad(width_mm=0.0)}, "pad width: is 0 mm"),
        ({"margin_mm": 80.0}, "does not go inside the margin, which leaves 145.0 × 0.0 mm"),
    ],
)
def test_senseless_sizes_are_refused(changes: dict[str, Any], words: str) -> None:
    """A number no blank can have is named with what to do."""
    with pytest.raises(SheetError) as told:
        lay(tapered(), **changes)
    assert words in str(told.value)
    assert "what to do" in str(told.value)


def test_no_spacing_and_no_margin_is_allowed() -> None:
    """Boxes may touch each other, the pad and the edge when spacing and margin are nothing."""
    shapes = box(50.0, 20.0)
    layouts = lay(shapes, pairs=2, length_mm=100.0, width_mm=50.0, margin_mm=0.0, spacing_mm=0.0,
                  pad=Pad(width_mm=100.0, height_mm=10.0))  # fmt: skip
    assert counts(layouts) == [2]
    assert verify(layouts, shapes, spacing_mm=0.0, margin_mm=0.0, pairs=2) == ()
