"""The smallest sheet: what is found stands up to a look by other means, and the limit is one."""

from pathlib import Path

import pytest
import shapely
from shapely import affinity

from scalegen.errors import SheetError
from scalegen.model import JobSpec, Pad
from scalegen.outline.ring import Ring
from scalegen.smallest import SmallestSheet, _least, _Task, smallest_sheet
from scalegen.smallest_views import smallest_lines, smallest_record
from scalegen.study import Study, study_pattern

SISKIN = Path(__file__).parents[2] / "profiles" / "siskin.toml"
BAR = Ring.from_rows([(0, 0), (60, 0), (60, 20), (0, 20)])


@pytest.fixture(scope="module")
def study() -> Study:
    """The siskin, looked at."""
    return study_pattern(SISKIN, JobSpec())


@pytest.fixture(scope="module")
def found(study: Study) -> SmallestSheet:
    """The shortest sheet 60 mm wide for a pair."""
    return smallest_sheet(study, JobSpec(), width_mm=60.0)


def test_everything_lies_on_it_apart(study: Study, found: SmallestSheet) -> None:
    """Measured with shapely alone: 4.175 mm (cutter and clearance) along the edge and between all."""
    layout = found.layout
    pad = shapely.box(layout.pad.x_mm, layout.pad.y_mm, layout.pad.x_mm + 20, layout.pad.y_mm + 20)
    left = shapely.Polygon(study.scale.footprint.flatten(1e-4))
    sides = {"left": left, "right": affinity.scale(left, yfact=-1, origin=(0, 0))}
    shapes = [pad]
    for place in layout.placements:
        turned = affinity.rotate(sides[place.side], place.angle_rad, origin=(0, 0), use_radians=True)
        shapes.append(affinity.translate(turned, place.x_mm, place.y_mm))
    assert len(shapes) == 3
    inside = shapely.box(*(4.175, 4.175), layout.length_mm - 4.175, layout.width_mm - 4.175).buffer(1e-6)
    assert all(inside.contains(shape) for shape in shapes)
    gaps = [one.distance(other) for k, one in enumerate(shapes) for other in shapes[k + 1 :]]
    assert min(gaps) >= 3.175 + 1 - 1e-3
    assert layout.width_mm == 60
    assert 0 < found.least_length_mm <= layout.length_mm


@pytest.mark.parametrize("margin", [0.0, 1.0, 2.5, 6.0])
@pytest.mark.parametrize("spacing", [0.0, 2.0, 5.0])
@pytest.mark.parametrize("rows", [1, 2, 6])
def test_no_layout_by_hand_beats_the_limit(margin: float, spacing: float, rows: int) -> None:
    """Six pairs of bars in rows, the pad at the end of them: never below what is said to be least."""
    ring = max(spacing, 4.0)
    task = _Task(
        pattern="bar",
        rings={"left": BAR, "right": BAR},
        shapes=(),
        bodies=(),
        pairs=6,
        spacing_mm=spacing,
        ring_mm=ring,
    )
    spec = JobSpec(margin_mm=margin, pad=Pad(width_mm=10, height_mm=10))
    each = 12 // rows
    length = each * 60 + (each - 1) * spacing + ring + 10 + 2 * margin
    width = rows * 20 + (rows - 1) * spacing + 2 * margin
    area, _ = _least(task, spec, None)
    assert 0 < area <= length * width
    _, shortest = _least(task, spec, width)
    assert shortest is not None
    assert shortest <= length


def test_bars_without_spacing_reach_the_limit() -> None:
    """With no spacing and margin the least area is that of bars and pad: 12 x 60 x 20 + 100.

    Each bar is taken 0.001 mm smaller all round, so that the limit is never more than the truth.
    """
    task = _Task(
        pattern="bar",
        rings={"left": BAR, "right": BAR},
        shapes=(),
        bodies=(),
        pairs=6,
        spacing_mm=0,
        ring_mm=0,
    )
    area, _ = _least(task, JobSpec(margin_mm=0, pad=Pad(width_mm=10, height_mm=10)), None)
    assert 12 * (1200 - 160 * 0.001) + 100 <= area <= 12 * 1200 + 100


def test_limits_are_kept_or_it_is_refused(study: Study) -> None:
    """A sheet too narrow for a scale, or too short for the pair, is none."""
    with pytest.raises(SheetError, match="no rectangle was found that takes 1 pair"):
        smallest_sheet(study, JobSpec(), width_mm=20.0)
    with pytest.raises(SheetError, match="no rectangle"):
        smallest_sheet(study, JobSpec(), width_mm=60.0, within_mm=(100.0, 60.0))


def test_it_is_told_with_its_limit_and_never_called_least(found: SmallestSheet) -> None:
    """Words and data have the same numbers; what is not proven is not claimed."""
    lines = list(smallest_lines(found, "mm"))
    record = smallest_record(found)
    assert lines[0].startswith(f"{record['length_mm']:g} mm x 60 mm takes 1 pair")
    assert "none shorter than" in lines[1]
    assert not record["proven"]
    assert "minimum" not in " ".join(lines)
