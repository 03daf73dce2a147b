"""Rigid pairs: exactly the spacing apart, side by side or mirrored."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.nest.mates import mates
from scalegen.nest.partners import match
from scalegen.nest.records import Part, Shape

OUTLINE = np.array([[0, -5], [30, -8], [44, -9], [50, 0], [44, 8], [20, 6], [0, 5]], dtype=float)
LEFT, RIGHT = Shape(key="L", points_mm=OUTLINE), Shape(key="R", points_mm=OUTLINE * [1.0, -1.0])


def _laid(part: Part) -> shapely.Polygon:
    shape = shapely.Polygon((LEFT if part.shape == "L" else RIGHT).points_mm)
    turned = affinity.rotate(shape, part.angle_rad, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, part.x_mm, part.y_mm)


@pytest.mark.parametrize("mode", ["adjacent", "mirrored"])
def test_partners_are_the_spacing_apart(mode: str) -> None:
    """By shapely the gap is the spacing, at most 0.04 mm more and never less."""
    for left, right in mates(LEFT, RIGHT, 4.5, mode):
        gap = _laid(left).distance(_laid(right))
        assert 4.5 - 1e-6 <= gap <= 4.54


def test_adjacent_partners_lie_side_by_side() -> None:
    """In every adjacent form the two share at least half their length along it, by the boxes of shapely."""
    forms = mates(LEFT, RIGHT, 4.5, "adjacent")
    assert len(forms) >= 4
    for left, right in forms:
        (a, _, b, _), (c, _, d, _) = _laid(left).bounds, _laid(right).bounds
        assert min(b, d) - max(a, c) >= 0.5 * (b - a) - 1e-6


def test_mirrored_partners_are_mirror_images() -> None:
    """Reflecting the left scale in the line between the two gives the right one, on all four sides."""
    forms = mates(LEFT, RIGHT, 4.5, "mirrored")
    for k, (left, right) in enumerate(forms):
        factor = {"yfact": -1.0} if k < 2 else {"xfact": -1.0}
        line = (right.x_mm / 2, right.y_mm / 2)
        image = affinity.scale(_laid(left), **{"xfact": 1.0, "yfact": 1.0, **factor}, origin=line)
        assert image.symmetric_difference(_laid(right)).area < 1e-6
    assert len(forms) == 4


def test_the_tightest_couple_of_wedges_makes_a_parallelogram() -> None:
    """Right triangles turned half round fill a box with no spacing between: closed form."""
    wedge = Shape(key="L", points_mm=np.array([[0, 0], [40, 0], [0, 20]], float))
    other = Shape(key="R", points_mm=np.array([[0, 0], [40, 0], [0, 20]], float))
    left, right = mates(wedge, other, 0.0, "adjacent")[0]
    both = shapely.union_all(
        [
            shapely.Polygon(wedge.points_mm),
            affinity.translate(
                affinity.rotate(shapely.Polygon(other.points_mm), 180, origin=(0, 0)), right.x_mm, right.y_mm
            ),
        ]
    )
    assert left == Part(shape="L")
    assert right.angle_rad == math.pi
    assert both.convex_hull.area == pytest.approx(800.0, abs=1.5)


def test_no_swap_of_partners_helps() -> None:
    """Partners are matched as well as trying every order finds, here four of each on a line."""
    lefts, rights = (
        [(0.0, 0.0), (10.0, 0.0), (20.0, 0.0), (30.0, 0.0)],
        [(29.0, 1), (11.0, 1), (1.0, 1), (19.0, 1)],
    )
    assert match(lefts, rights) == (2, 1, 3, 0)
