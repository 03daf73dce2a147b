"""A drawing that does not say its unit: asked for, and taken from the pattern."""

from pathlib import Path

import ezdxf
import pytest

from scalegen.errors import PatternError
from scalegen.outline.read import READERS, read_outline
from scalegen.pattern.read import read_pattern
from scalegen.pattern.tables import OUTLINE_SUFFIXES

PATTERN = """
name = "plain"
units = "mm"
[tang]
outline = "plain.dxf"
{units}
thickness = 3
[front]
at = 10
[scale]
thickness = 6
"""


def _pattern(folder: Path, units: str) -> Path:
    drawing = ezdxf.new("R2000", units=0)
    drawing.modelspace().add_lwpolyline([(0, 0), (4, 0), (4, 1), (0, 1)], close=True)
    drawing.saveas(folder / "plain.dxf")
    path = folder / "plain.toml"
    path.write_text(PATTERN.format(units=units), encoding="utf-8")
    return path


def test_the_pattern_can_state_the_unit_of_its_drawing(tmp_path: Path) -> None:
    """Four by one inches must be read as 101.6 by 25.4 mm (1 in = 25.4 mm, NBS Circular 572)."""
    pattern = read_pattern(_pattern(tmp_path, 'outline_units = "in"'))
    assert read_outline(pattern.outline).ring.bounds_mm == pytest.approx((0, 0, 101.6, 25.4))


def test_without_it_the_remedy_names_the_field(tmp_path: Path) -> None:
    """A drawing without a unit must be refused, saying what to write and how long it would be."""
    pattern = read_pattern(_pattern(tmp_path, ""))
    with pytest.raises(PatternError, match="does not say its unit") as caught:
        read_outline(pattern.outline)
    assert 'outline_units = "mm" or "in"' in caught.value.remedy
    assert "as inches 101.6 mm long" in caught.value.remedy


def test_what_a_pattern_may_name_is_what_can_be_read() -> None:
    """The endings that a pattern takes must be the endings that there are readers for."""
    assert set(OUTLINE_SUFFIXES) == set(READERS)
