"""The smallest sheet: narrowest widths, grain and second pad, and what the search cannot mind is refused."""

import math
from pathlib import Path

import pytest
import shapely
from shapely import affinity

from scalegen.errors import UsageError
from scalegen.model import JobSpec, KeepOut, Pad
from scalegen.model.job import TURNS
from scalegen.outline.blank import box_rows
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved
from scalegen.smallest import _least, _narrowest_mm, _Task, require_plain, smallest_sheet
from scalegen.smallest_views import smallest_lines, smallest_record
from scalegen.study import study_pattern

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
BAR = moved(Ring.from_rows([(0, 0), (60, 0), (60, 20), (0, 20)]), 0.0, 0.0, math.radians(17))


def test_any_turn_has_a_narrowest_width() -> None:
    """A bar of 60 x 20 mm drawn aslant by 17 degrees is 20 mm wide once it may be turned as it likes."""
    task = _Task(
        pattern="bar",
        rings={"left": BAR, "right": BAR},
        shapes=(),
        bodies=(),
        pairs=1,
        spacing_mm=0.0,
        ring_mm=0.0,
    )
    free = _narrowest_mm(task, JobSpec(turns_rad=TURNS["free"]))
    assert free == pytest.approx(20.0, abs=0.02)
    aslant = 60 * math.sin(math.radians(17)) + 20 * math.cos(math.radians(17))
    assert _narrowest_mm(task, JobSpec()) == pytest.approx(aslant, abs=0.03)


@pytest.mark.parametrize(
    ("spec", "where"),
    [
        (JobSpec(keep_out=(KeepOut(rows=box_rows(1, 1, 9, 9)),)), "keep_out"),
    ],
)
def test_what_it_cannot_mind_is_refused(spec: JobSpec, where: str) -> None:
    """A batch file with a flaw is not answered as if it had none; grain and second pad are minded."""
    with pytest.raises(UsageError, match="plain rectangle") as caught:
        require_plain(spec)
    assert where in caught.value.where
    require_plain(JobSpec(grain_rad=0.3, pad=Pad(second="upper-right")))


@pytest.mark.parametrize("grain_rad", [0.0, math.pi / 2])
@pytest.mark.parametrize("rows", [1, 2, 6])
def test_no_rows_along_the_grain_beat_the_limit(grain_rad: float, rows: int) -> None:
    """Six pairs of bars 60 x 20 in rows along the grain, a pad at either end: never below the limit."""
    bar = Ring.from_rows([(0, 0), (60, 0), (60, 20), (0, 20)])
    task = _Task(
        pattern="bar",
        rings={"left": bar, "right": bar},
        shapes=(),
        bodies=(),
        pairs=6,
        spacing_mm=4.0,
        ring_mm=4.0,
    )
    pad = Pad(width_mm=10, height_mm=10, second="upper-right")
    spec = JobSpec(margin_mm=4.0, pad=pad, grain_rad=grain_rad)
    each = 12 // rows
    along = each * 60 + (each - 1) * 4 + 2 * (4 + 10) + 2 * 4
    across = rows * 20 + (rows - 1) * 4 + 2 * 4
    length, width = (across, along) if grain_rad else (along, across)
    _, shortest = _least(task, spec, width)
    assert shortest is not None
    assert 0 < shortest <= length
    assert _least(task, spec, None)[0] <= length * width


def test_a_second_pad_stands_in_its_corner_and_scales_lie_along_the_grain() -> None:
    """By shapely: on a sheet with its grain across, all keep 4.175 mm (cutter and clearance) to each other.

    The second pad stands in the upper right corner inside the margin, the scales lie at quarter turns.
    """
    study = study_pattern(SISKIN, JobSpec())
    spec = JobSpec(pad=Pad(corner="anywhere", second="upper-right"), grain_rad=math.pi / 2)
    found = smallest_sheet(study, spec, width_mm=150.0)
    layout = found.layout
    pads = [shapely.box(p.x_mm, p.y_mm, p.x_mm + p.w_mm, p.y_mm + p.h_mm) for p in layout.pads]
    assert pads[1].bounds[2:] == pytest.approx((layout.length_mm - 4.175, 150 - 4.175))
    left = shapely.Polygon(study.scale.footprint.flatten(1e-4))
    sides = {"left": left, "right": affinity.scale(left, yfact=-1, origin=(0, 0))}
    shapes = [*pads]
    for place in layout.placements:
        assert abs(math.cos(place.angle_rad)) < 1e-9
        turned = affinity.rotate(sides[place.side], place.angle_rad, origin=(0, 0), use_radians=True)
        shapes.append(affinity.translate(turned, place.x_mm, place.y_mm))
    assert len(shapes) == 4
    gaps = [one.distance(other) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
    assert min(gaps) >= 4.175 - 1e-3
    inside = shapely.box(4.175, 4.175, layout.length_mm - 4.175, 150 - 4.175).buffer(1e-6)
    assert all(inside.contains(shape) for shape in shapes)
    assert found.least_length_mm is not None
    assert found.least_length_mm <= layout.length_mm
    record = smallest_record(found)
    assert (record["grain_deg"], len(record["pads"])) == (90.0, 2)
    assert "second pad stands" in " ".join(smallest_lines(found, "mm"))
