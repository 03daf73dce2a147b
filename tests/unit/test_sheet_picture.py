"""The picture of a sheet: all that a person at the machine looks for, in the pattern's units."""

import io
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from scalegen.model import JobSpec
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.report.picture_shapes import BLACK, Curve, Disc, Label
from scalegen.report.sheet_picture import draw_sheet, sheet_pictures

PROFILES = Path(__file__).parents[2] / "profiles"
SPEC = JobSpec(pairs=2, origin="upper-right")


@cache
def looked_at(name: str) -> Study:
    """A demo pattern, looked at once."""
    return study_pattern(PROFILES / f"{name}.toml", SPEC)


def words(name: str) -> str:
    """All text of a demo's first sheet."""
    study = looked_at(name)
    picture = draw_sheet(study.scale, lay_out(study, SPEC)[0])
    return "\n".join(each.text for each in (*picture.drawn, *picture.over) if isinstance(each, Label))


@pytest.mark.parametrize(
    ("name", "sizes"),
    [
        ("siskin", ("300.0 mm x 150.0 mm", "margin of 4.175 mm", "spacing of 4.175 mm")),
        ("curlew", ("12.00 in x 6.00 in", "margin of 0.1644 in", "spacing of 0.1644 in")),
    ],
)
def test_everything_is_named_in_the_users_units(name: str, sizes: tuple[str, ...]) -> None:
    """Labels, pad, ring, grain, zero and sizes stand on the page."""
    text = words(name)
    for word in ("1L", "1R", "2L", "2R", "pad", "ring of", "grain", "X0 Y0", "front end", "no more than"):
        assert word in text, word
    for size in sizes:
        assert size in text, size


def test_wedges_point_to_the_fronts() -> None:
    """Each scale has a black wedge whose tip lies nearest the front of that scale."""
    study = looked_at("siskin")
    (layout,) = lay_out(study, SPEC)
    picture = draw_sheet(study.scale, layout)
    wedges = [each for each in picture.drawn if isinstance(each, Curve) and each.fill == BLACK]
    assert len(wedges) == len(layout.placements)
    box_left = picture.window_mm[0]
    for wedge, place in zip(wedges, layout.placements, strict=True):
        toward = np.array([-1.0, 0.0]) if abs(place.angle_rad) < 1e-9 else np.array([1.0, 0.0])
        tip, base = wedge.rows[0, :2], wedge.rows[1:, :2].mean(axis=0)
        assert (tip - base) @ toward > 1.0
        assert tip[0] > box_left


def test_the_zero_lies_on_the_corner_asked_for() -> None:
    """X0 Y0 in the upper right corner is a ring right of and above all scales."""
    study = looked_at("siskin")
    picture = draw_sheet(study.scale, lay_out(study, SPEC)[0])
    (zero,) = [each for each in picture.drawn if isinstance(each, Disc)]
    rows = np.concatenate(
        [each.rows[:, :2] for each in picture.drawn if isinstance(each, Curve) and each.fill]
    )
    assert zero.at_mm == pytest.approx((rows[:, 0].max(), rows[:, 1].min()))


def test_files_open_elsewhere_and_are_the_same_every_time() -> None:
    """An XML reader and an image reader take them; another run gives the same bytes."""
    study = looked_at("siskin")
    layouts = lay_out(study, SPEC)
    files = dict(sheet_pictures(study.scale, layouts))
    assert list(files) == ["sheet-1.svg", "sheet-1.png"]
    page = ET.parse(io.BytesIO(files["sheet-1.svg"])).getroot()  # noqa: S314 - our own bytes
    assert page.get("width") == "280mm"
    assert Image.open(io.BytesIO(files["sheet-1.png"])).size[0] == 1400
    assert dict(sheet_pictures(study.scale, layouts)) == files
